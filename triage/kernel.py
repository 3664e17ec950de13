"""Have the compiled kernel ready before anybody waits for it.

The kernel is compiled on first use and kept on disk; set-up calls `warm_up` so
that no technician's first question pays for it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from triage.compiling import Compiled
from triage.exact import posterior
from triage.folding import Folded, fold
from triage.local import Local, gather
from triage.model import Network, Node, Parent
from triage.ordering import as_numbered
from triage.planning import make_plan
from triage.reading import Evidence, links_of, read_evidence
from triage.sampling import draw_states
from triage.stakes import Stakes
from triage.sweeping import INHIBITED, sweep
from triage.value import look_ahead

__all__ = ["PARTS", "warm_up"]

#: What can be compiled side by side: the tables take the longer half of the time.
PARTS = ("tables", "circuits")


def warm_up(*parts: str) -> float:
    """Answer one small question that runs every compiled function.

    Parameters
    ----------
    parts : of `PARTS`; none means all. Each in a process of its own takes half as long; what
        both need is compiled twice then.

    Returns
    -------
    float
        The posterior of the first cause, so that a caller can see that it works.

    Raises
    ------
    ValueError
        If there is no such part.

    Examples
    --------
    >>> 0.5 < warm_up() < 1.0
    True
    """
    unknown = sorted(set(parts) - set(PARTS))
    if unknown:
        raise ValueError(f"no part {unknown[0]!r}; there are {', '.join(PARTS)}")
    network = _network()
    answers = [_WAYS[part](network, {"f": True, "g": True}) for part in parts or PARTS]
    return answers[0]


def _tables(network: Network, evidence: Evidence) -> float:
    """Sweep over tables, and draw whole cars from them; any order will do.

    What looks for good ones is compiled with the circuits.
    """
    nobody = np.empty(0, np.int64)
    local = Local(*gather(links_of(network), read_evidence(network, evidence), nobody))
    folded = Folded(*fold(local.links, local.seen, local.ratio))
    compiled = Compiled(network, local, folded, as_numbered(folded))
    compiled.__dict__["plan"] = make_plan(folded, compiled.order)
    marginal = sweep(compiled.plan, folded.unary, folded.gate, INHIBITED)[1]
    draw_states(compiled, 2)
    return float(marginal[compiled.value_axis[network.arrays.index["a"]]])


def _circuits(network: Network, evidence: Evidence) -> float:
    """Write a circuit, run it, and value a check on it."""
    outlook = look_ahead(network, evidence, [_Check()], Stakes())
    compiled = outlook.state.compiled
    compiled.evaluate(*compiled.lanes(1))
    return posterior(network, evidence).causes["a"]


_WAYS = {"tables": _tables, "circuits": _circuits}


def _network() -> Network:
    """Return a network in which two findings hang together."""
    return Network(
        [
            Node("a", "cause", 0.5),
            Node("b", "cause", 0.5),
            Node("c", "cause", 0.1, (Parent("a", 0.5),)),
            Node("s", "state", 0.0, (Parent("a", 0.5), Parent("b", 0.5))),
            Node("t", "state", 0.0, (Parent("a", 0.5), Parent("b", 0.5), Parent("c", 0.5))),
            Node("f", "finding", 0.0, (Parent("s", 0.5), Parent("t", 0.5), Parent("c", 0.5))),
            Node("g", "finding", 0.0, (Parent("s", 0.5), Parent("t", 0.5), Parent("b", 0.5))),
        ]
    )


@dataclass(frozen=True, slots=True)
class _Check:
    """One check of one verdict, on its own target."""

    id: str = "check"
    place: str = "vehicle"
    setup: str = "here"
    minutes: float = 1.0
    target: str = "a"
    p_found_if_on: float = 0.9
    p_found_if_off: float = 0.1
    node: str | None = None

    @property
    def verdicts(self) -> tuple[_Check]:
        """What it can show."""
        return (self,)
