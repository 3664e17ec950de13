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
from numba import njit

from triage.arrays import Floats, Ints
from triage.compiling import Compiled
from triage.folding import keep_ancestors
from triage.local import Local

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
    arrays, local = compiled.network.arrays, compiled.local
    rho: Floats = (1.0 - absent) / np.maximum(absent, 1e-300)
    place = np.full(arrays.base.size, -1)
    place[rows] = np.arange(rows.size)
    place = place[local.nodes]
    here = np.flatnonzero(place >= 0)
    silent = _silence(local)[here]
    odds = _odds(local)[here]
    mass = compiled.now[2][here] * silent
    away = np.maximum(absent[place[here]], 1e-300)
    rho[place[here]] = np.where(np.isnan(mass), odds * local.ratio[here] * silent, mass / away)
    return rho


def responsibility(q: Floats, rho: Floats) -> Floats:
    """Return r = q - rho * (1 - q), kept inside [0, q] against rounding."""
    return np.clip(q - rho * (1.0 - q), 0.0, q)


@njit(cache=True)
def _odds(local: Local) -> Floats:
    """Return the odds of nodes by themselves and by the parents seen present.

    A cause whose parents were all observed is a root in all but name.
    """
    links = local.links
    out = np.empty(links.base.shape[0])
    for node in range(out.shape[0]):
        on, off = links.base[node], 1.0 - links.base[node]
        for k in range(links.pointer[node], links.pointer[node + 1]):
            if local.seen[links.parents[k]] == 1:
                on += off * links.strengths[k]
                off *= 1.0 - links.strengths[k]
        out[node] = on / max(off, 1e-300)
    return out


@njit(cache=True)
def _silence(local: Local) -> Floats:
    """Return, for each node, the product of (1 - strength) over its links towards the evidence."""
    links = local.links
    told = (local.seen >= 0) | (local.ratio != 1.0)
    used = keep_ancestors(links, told)
    out = np.ones(links.base.shape[0])
    for node in range(out.shape[0]):
        if used[node]:
            for k in range(links.pointer[node], links.pointer[node + 1]):
                out[links.parents[k]] *= 1.0 - links.strengths[k]
    return out
