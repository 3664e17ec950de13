"""Have the compiled kernel ready before anybody waits for it.

The kernel is compiled on first use and kept on disk; set-up calls `warm_up` so
that no technician's first question pays for it.
"""

from __future__ import annotations

from triage.exact import posterior
from triage.model import Network, Node, Parent

__all__ = ["warm_up"]


def warm_up() -> float:
    """Answer one small question that runs every compiled function.

    Returns
    -------
    float
        The posterior it computed, for a check that the kernel works: 10/19.

    Examples
    --------
    >>> round(warm_up(), 6)
    0.526316
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
    posterior(network, {"f": True, "g": True})
    single = Network([Node("a", "cause", 10 / 19)])
    return posterior(single, {}).causes["a"]
