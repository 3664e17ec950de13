"""Has a cause a part in what is complained of? That is not: is it there.

An old car has many faults that have nothing to do with the lamp. A cause is
*responsible* when it is present and at least one of its links towards the
complaint's findings is active [1]_. For a root cause this has a closed form: the
mass of "present, but every such link inhibited" is that of "absent", times the
prior odds (and any likelihood ratio), times the inhibitions::

    r = q - rho * (1 - q),   rho = odds * ratio * prod(1 - strength)

because with all its links inhibited a cause looks to the rest of the network
exactly as if it were absent. The same holds for a cause of which every parent was
observed; its odds count those that were seen present. For any other cause that has
parents of its own the mass depends on them, and comes out of the downward sweep
(`triage.sweeping`).

Through states this says that the *first* link is active, not that the chain
reaches the finding: it is an upper bound there.

References
----------
.. [1] Pearl, J. (2000). Causality. Cambridge University Press, chapter 9
       (probability of causation). The closed form is derived above.
"""

from __future__ import annotations

import numpy as np

from triage.arrays import Floats, Ints
from triage.compiling import Compiled, links_of
from triage.folding import keep_ancestors

__all__ = ["inhibited_ratio", "responsibility"]


def inhibited_ratio(compiled: Compiled, rows: Ints, absent: Floats) -> Floats:
    """Return rho for each cause: P(present, links inhibited | e) / P(absent | e).

    Parameters
    ----------
    compiled : the case
    rows : (causes,) node rows of the causes
    absent : (causes,) P(absent | evidence)

    Returns
    -------
    (causes,) array, >= 0. Of a root it stays what it is while evidence on other
    nodes changes, as long as that evidence gives none of the cause's links a use
    that it did not have; of other causes it is only near enough.
    """
    silent = _silence(compiled)
    on, off = _alone(compiled, rows)
    rho: Floats = on / np.maximum(off, 1e-300) * compiled.ratio[rows] * silent[rows]
    loose = (compiled.value_axis[rows] < 0) & (compiled.seen[rows] < 0)
    rho[loose] = (1.0 - absent[loose]) / np.maximum(absent[loose], 1e-300)
    mass = compiled.as_it_stands[2][rows] * silent[rows]
    inner = ~np.isnan(mass)
    rho[inner] = mass[inner] / np.maximum(absent[inner], 1e-300)
    return rho


def responsibility(q: Floats, rho: Floats) -> Floats:
    """Return r = q - rho * (1 - q), kept inside [0, q] against rounding."""
    return np.clip(q - rho * (1.0 - q), 0.0, q)


def _alone(compiled: Compiled, rows: Ints) -> tuple[Floats, Floats]:
    """Return P(on) and P(off) of nodes by themselves and by the parents seen present.

    A cause whose parents were all observed is a root in all but name.
    """
    arrays = compiled.network.arrays
    on, off = arrays.base.copy(), 1.0 - arrays.base
    child = np.repeat(np.arange(arrays.base.size), np.diff(arrays.pointer))
    for link in np.flatnonzero(compiled.seen[arrays.parents] == 1):
        on[child[link]] += off[child[link]] * arrays.strengths[link]
        off[child[link]] *= 1.0 - arrays.strengths[link]
    return on[rows], off[rows]


def _silence(compiled: Compiled) -> Floats:
    """Return, for each node, the product of (1 - strength) over its links towards the evidence."""
    arrays = compiled.network.arrays
    told = (compiled.seen >= 0) | (compiled.ratio != 1.0)
    used = keep_ancestors(links_of(compiled.network), told)
    out = np.ones(arrays.base.shape[0])
    child = np.repeat(np.arange(arrays.base.shape[0]), np.diff(arrays.pointer))
    live = used[child]
    np.multiply.at(out, arrays.parents[live], 1.0 - arrays.strengths[live])
    return out
