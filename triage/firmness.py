"""How firm the answer is when the numbers behind it are wrong.

Every strength, leak and prior is an estimate. Each is moved in log odds by noise
of a stated width and the case is answered again; the spread of the answers says
how far they can be trusted [1]_. The noise is fixed, so that the same case gets
the same range every time.

References
----------
.. [1] Pradhan, M., Henrion, M., Provan, G., Del Favero, B. and Huang, K. (1996).
       The sensitivity of belief networks to imprecise probabilities: an
       experimental investigation. Artificial Intelligence 85, 363-397.
       (From memory.)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from triage.arrays import Floats
from triage.exact import Standing

__all__ = ["Firmness", "firmness"]


@dataclass(frozen=True, slots=True)
class Firmness:
    """What became of the answer when its numbers were moved.

    Attributes
    ----------
    low, high : (causes,) 10th and 90th percentile of each posterior
    samples : (runs, causes) the posteriors themselves; `nan` where not looked at
    """

    low: Floats
    high: Floats
    samples: Floats


def firmness(state: Standing, *, runs: int, width: float = 0.5, seed: int = 1) -> Firmness:
    """Return the range of every cause's posterior under perturbed numbers.

    Parameters
    ----------
    state : the case
    runs : how many perturbations
    width : standard deviation of the noise, in natural log odds
    seed : of the fixed noise

    Notes
    -----
    The plan is used again; each run folds and sweeps once. Strengths of 0 and 1
    stay what they are.
    """
    arrays = state.compiled.network.arrays
    rng = np.random.default_rng(seed)
    samples = np.empty((runs, state.rows.size))
    for run in range(runs):
        base = _moved(arrays.base, rng.normal(0.0, width, arrays.base.size))
        strengths = _moved(arrays.strengths, rng.normal(0.0, width, arrays.strengths.size))
        samples[run] = state.compiled.perturbed(base, strengths)[state.rows]
    q = state.q
    low, high = np.quantile(samples, [0.1, 0.9], axis=0) if runs else (q, q)
    known = ~np.isnan(low)
    return Firmness(
        np.where(known, np.minimum(low, q), q), np.where(known, np.maximum(high, q), q), samples
    )


def _moved(p: Floats, noise: Floats) -> Floats:
    """Return probabilities moved in log odds; 0 and 1 stay."""
    inner = (p > 0.0) & (p < 1.0)
    odds = np.divide(p, 1.0 - p, out=np.ones_like(p), where=inner) * np.exp(noise)
    return np.where(inner, odds / (1.0 + odds), p)
