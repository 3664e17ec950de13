"""Which verdicts count as looks at a safety gate.

The one idea: a gate is told "nothing found" of a corner only when somebody said so of the whole
check there, and nothing that stands of it says otherwise. A check speaks about several things:
"no play in the hub" is no word on the ball joint beside it, and does not undo its "found".
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from api.documents.case import CaseVerdict
from api.store.events import Who
from triage.gate_closing import Looked, Person
from triage.gates import CORNERS

__all__ = ["Looks"]

_ORDER = ("lf", "rf", "lr", "rr")


@dataclass(slots=True)
class Looks:
    """What stands of each check at each corner, by the thing it is about ("" = all)."""

    standing: dict[tuple[str, str], dict[str, str]] = field(
        default_factory=lambda: defaultdict(dict)
    )

    @staticmethod
    def person(who: Who) -> Person:
        """Return the person as the gates know one: an owner counts as a technician."""
        return Person(who.name, "technician" if who.role == "owner" else who.role)

    def from_verdict(self, verdict: CaseVerdict, result: str, who: Who) -> list[Looked]:
        """Return the looks that one verdict stands for.

        Parameters
        ----------
        verdict : as given; what it is about lies at ``at``, else where the check was done
        result : found, not-found or cant-tell, as it counts at a gate
        who : who gave it; what a trainee did not find leaves what stands alone
        """
        spot = verdict.at or verdict.place or "vehicle"
        person = self.person(who)
        if result == "found":
            self._put(verdict, spot, result)
            finds = (verdict.cause,) if verdict.cause else ()
            return [Looked(verdict.check, spot, result, person, finds)]
        if who.role == "trainee":
            return [Looked(verdict.check, spot, result, person)]
        self._put(verdict, spot, result)
        corners = [corner for corner in _ORDER if corner in CORNERS[spot]]
        said = {corner: self._word(verdict.check, corner) for corner in corners}
        if len(set(said.values())) == 1 and said[corners[0]]:
            return [Looked(verdict.check, spot, said[corners[0]], person)]
        return [
            Looked(verdict.check, corner, word, person) for corner, word in said.items() if word
        ]

    def _put(self, verdict: CaseVerdict, spot: str, result: str) -> None:
        """Write down what was said; a verdict on all things replaces those on single ones."""
        for corner in CORNERS[spot]:
            rows = self.standing[verdict.check, corner]
            if verdict.cause is None:
                rows.clear()
            rows[verdict.cause or ""] = result

    def _word(self, check: str, corner: str) -> str:
        """Return what a gate is told, or nothing while a find stands or the rest is unsaid."""
        rows = self.standing[check, corner]
        words = set(rows.values())
        if "found" in words:
            return ""
        if "cant-tell" in words:
            return "cant-tell"
        return "not-found" if "" in rows else ""
