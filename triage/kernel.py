"""Have the compiled kernel ready before anybody waits for it.

The kernel is compiled on first use and kept on disk; set-up calls `warm_up` so
that no technician's first question pays for it.
"""

from __future__ import annotations

from dataclasses import dataclass

from triage.exact import posterior
from triage.model import Network, Node, Parent
from triage.sensor_first import draw_cars
from triage.stakes import Stakes
from triage.sweeping import INHIBITED, sweep
from triage.value import look_ahead

__all__ = ["warm_up"]


def warm_up() -> float:
    """Answer one small question that runs every compiled function.

    Returns
    -------
    float
        The posterior of the first cause, so that a caller can see that it works.

    Examples
    --------
    >>> 0.5 < warm_up() < 1.0
    True
    """
    network = Network(
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
    evidence = {"f": True, "g": True}
    ends = [network.arrays.index[key] for key in evidence]
    outlook = look_ahead(network, evidence, [_Check()], Stakes())
    compiled = outlook.state.compiled
    compiled.evaluate(*compiled.lanes(1))
    sweep(compiled.plan, compiled.unary, compiled.gate, INHIBITED)
    draw_cars(compiled, ends, 2)
    return posterior(network, evidence).causes["a"]


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
