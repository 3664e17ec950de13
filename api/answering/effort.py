"""What an answer can afford: how much of the account is made for a wide case.

The posteriors, the gates and the list are always made. The account of them - what
each statement weighs, what would change most, how firm it all is - answers the
case again and again, once for each statement, open question or perturbation. Most
cases afford all of it in a second. Where one sweep already takes as long as that,
parts are left out, and the answer says which. Effort is counted in products, as
the plan of the case predicts them (`triage.planning`), so that the same case
leaves out the same parts on every machine.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from triage.compiling import WORK_BUDGET

__all__ = ["FEWEST_RUNS", "MOST_RUNS", "Allowance", "Effort"]

#: Products for taking each statement back in turn, and for adding them one by one.
_WEIGHTS, _ACCOUNT = 4e8, 5e7
#: Products for the open questions: two sweeps.
_CHANGES = 3e8
#: Products for perturbed answers, of which each costs so many besides its sweep.
_PERTURBED, _EACH = 1.2e8, 1e6
FEWEST_RUNS, MOST_RUNS = 8, 200


@dataclass(frozen=True, slots=True)
class Allowance:
    """What whoever asks can wait for.

    Attributes
    ----------
    work : products that one sweep may take; beyond, the chances are intervals
    patience : how many times the usual effort the account may take; infinite makes all of it
    perturbed : how many times more the perturbed answers may take, where they can be held up
    grows : what takes long is made afterwards
    """

    work: float = WORK_BUDGET
    patience: float = 1.0
    perturbed: float = 1.0
    grows: bool = False


@dataclass(frozen=True, slots=True)
class Effort:
    """What is made for a case.

    Attributes
    ----------
    cost : products of one sweep
    items : statements of the case
    patience, perturbed, grows : as in `Allowance`
    """

    cost: float
    items: int
    patience: float = 1.0
    perturbed: float = 1.0
    grows: bool = False

    @property
    def weights(self) -> bool:
        """Whether each statement is taken back in turn."""
        return self.items * self.cost <= _WEIGHTS * self.patience

    @property
    def account(self) -> bool:
        """Whether the statements are added one by one; the last ones cost most."""
        return self.cost <= _ACCOUNT * self.patience

    @property
    def changes(self) -> bool:
        """Whether the open questions are gone through."""
        return 2.0 * self.cost <= _CHANGES * self.patience

    @property
    def runs(self) -> int:
        """Number of perturbed answers, 200 where they can be afforded.

        Too few would say nothing and are none; the fewest are made for whoever is patient, and
        all of them for whoever has all the patience there is.
        """
        if self.patience == math.inf:
            return MOST_RUNS if self.is_exact else 0
        budget = _PERTURBED * min(self.patience, 1.0) * self.perturbed
        runs = int(budget / (self.cost + _EACH))
        if runs >= FEWEST_RUNS:
            return min(runs, MOST_RUNS)
        patient = FEWEST_RUNS * self.cost <= _PERTURBED * self.patience * self.perturbed
        return FEWEST_RUNS if patient else 0

    @property
    def is_exact(self) -> bool:
        """Whether there are exact chances to give an account of."""
        return self.cost < math.inf

    def left_out(self) -> Iterator[str]:
        """Yield a sentence for the answer where something is left out."""
        if not self.is_exact:
            yield (
                "There is no account of the first cause: without the findings that the order was "
                "made without it would mislead. Further findings make the case narrower."
            )
            return
        parts = []
        if not self.weights:
            parts.append("what each statement weighs")
        elif not self.account:
            parts.append("what each statement adds in turn")
        if not self.changes:
            parts.append("what would change the answer most")
        if not self.runs:
            parts.append("how firm the ranking is")
        if parts:
            last = f" and {parts[-1]}" if len(parts) > 1 else parts[-1]
            yield (
                "Many causes hang together in this case. The chances are exact; "
                f"{self._why_not}: {', '.join(parts[:-1])}{last}. Further findings make it "
                "quicker; 'triage --full' makes all of it."
            )

    @property
    def _why_not(self) -> str:
        """Return what becomes of the parts that are not made at once."""
        if self.grows:
            return "not made yet, because it takes long, and made when nobody waits for a list"
        return "left out, because it would take long"
