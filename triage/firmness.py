"""How firm the answer is when the numbers behind it are wrong.

Every strength, leak and prior is an estimate. Each is moved in log odds by noise
of a stated width and the case is answered again; the spread of the answers says
how far they can be trusted [1]_: the range of each posterior, and how often the first
cause and the next check would still be what they are. The noise is fixed, so that
the same case gets the same range every time.

References
----------
.. [1] Pradhan, M., Henrion, M., Provan, G., Del Favero, B. and Huang, K. (1996).
       The sensitivity of belief networks to imprecise probabilities: an
       experimental investigation. Artificial Intelligence 85, 363-397.
       (From memory.)
.. [2] Wilson, E. B. (1927). Probable inference, the law of succession, and
       statistical inference. Journal of the American Statistical Association
       22, 209-212. (From memory.)
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from triage.arrays import Floats
from triage.exact import Standing
from triage.folding import keep_ancestors
from triage.model import NetworkArrays
from triage.reading import links_of
from triage.responsibility import responsibility

__all__ = ["Firmness", "check_stays", "firmness", "share_range", "top_stays"]

_BATCH = 8  # runs between two pauses


@dataclass(frozen=True, slots=True)
class Firmness:
    """What became of the answer when its numbers were moved.

    Attributes
    ----------
    low, high : (causes,) 10th and 90th percentile of each posterior
    samples : (runs, causes) the posteriors themselves; `nan` where not looked at
    parts : (runs, causes) the responsibilities; of a cause with parents as large a
        share of its posterior as it is unperturbed
    """

    low: Floats
    high: Floats
    samples: Floats
    parts: Floats

    @property
    def runs(self) -> int:
        """Return how many perturbed answers there are."""
        return int(self.samples.shape[0])

    def with_more(self, more: Firmness, q: Floats) -> Firmness:
        """Return this with further perturbed answers of the same case.

        Parameters
        ----------
        more : of perturbations with other numbers
        q : (causes,) posteriors now
        """
        samples = np.concatenate((self.samples, more.samples))
        return _ranged(q, samples, np.concatenate((self.parts, more.parts)))


def firmness(
    state: Standing,
    r: Floats,
    *,
    runs: range,
    width: float = 0.5,
    pause: Callable[[], None] = lambda: None,
) -> Firmness:
    """Return the range of every cause's posterior under perturbed numbers.

    Parameters
    ----------
    state : the case
    r : (causes,) responsibilities now
    runs : numbers of the perturbations; each has noise of its own, always the same
    width : standard deviation of the noise, in natural log odds
    pause : called before every few runs; what it raises ends the work

    Notes
    -----
    The plan is used again; each run folds and sweeps once. Strengths of 0 and 1
    stay what they are.
    """
    arrays = state.compiled.network.arrays
    seen = state.compiled.seen[state.rows]
    samples, parts = np.empty((2, len(runs), state.rows.size))
    told = (state.compiled.seen >= 0) | (state.compiled.ratio != 1.0)
    used = keep_ancestors(links_of(state.compiled.network), told)
    child = np.repeat(np.arange(arrays.base.size), np.diff(arrays.pointer))
    moved = [_draw(arrays, np.random.default_rng((1, run)), width) for run in runs]
    chances: list[Floats] = []
    for start in range(0, len(moved), _BATCH):
        pause()
        batch = moved[start : start + _BATCH]
        chances += state.compiled.side_by_side(lambda pair: state.compiled.perturbed(*pair), batch)
    for run, ((base, strengths), chance) in enumerate(zip(moved, chances, strict=True)):
        samples[run] = np.where(seen >= 0, seen, chance[state.rows])
        silent = np.ones(arrays.base.size)
        np.multiply.at(silent, arrays.parents[used[child]], 1.0 - strengths[used[child]])
        parts[run] = _part(state, r, samples[run], (base, silent))
    return _ranged(state.q, samples, parts)


def _ranged(q: Floats, samples: Floats, parts: Floats) -> Firmness:
    """Return perturbed answers with their ranges, which hold the present answer."""
    low, high = np.quantile(samples, [0.1, 0.9], axis=0) if len(samples) else (q, q)
    known = ~np.isnan(low)
    return Firmness(
        np.where(known, np.minimum(low, q), q),
        np.where(known, np.maximum(high, q), q),
        samples,
        parts,
    )


def top_stays(firm: Firmness, r: Floats) -> float:
    """Return the share of the runs in which the first cause is still the first."""
    return float(np.mean(np.argmax(np.nan_to_num(firm.parts), axis=1) == int(np.argmax(r))))


def check_stays(first: Callable[[Floats], str], usual: str, runs: Iterable[Floats]) -> float:
    """Return the share of the runs in which the next check is still the next.

    Parameters
    ----------
    first : the first check, by its id, of the list that is made from what each check is worth
    usual : the next check as it stands
    runs : (offers, causes) what each check is worth for each cause, in each run; at least one
    """
    return float(np.mean([first(gain) == usual for gain in runs]))


def share_range(share: float, runs: int) -> tuple[float, float]:
    """Return what a share of so many runs says about the share of very many, at 95 %.

    The score interval [2]_, which keeps inside [0, 1] and works for shares of none and all.

    Examples
    --------
    >>> low, high = share_range(1.0, 8)
    >>> round(low, 2), high
    (0.68, 1.0)
    """
    z = 1.959963984540054  # of the normal distribution, two-sided
    middle = (share + z**2 / (2.0 * runs)) / (1.0 + z**2 / runs)
    spread = math.sqrt(share * (1.0 - share) / runs + z**2 / (4.0 * runs**2))
    spread *= z / (1.0 + z**2 / runs)
    return max(middle - spread, 0.0), min(middle + spread, 1.0)


def _draw(arrays: NetworkArrays, rng: np.random.Generator, width: float) -> tuple[Floats, Floats]:
    """Return priors and leaks, and strengths, moved at random."""
    base = _moved(arrays.base, rng.normal(0.0, width, arrays.base.size))
    return base, _moved(arrays.strengths, rng.normal(0.0, width, arrays.strengths.size))


def _part(state: Standing, r: Floats, q: Floats, moved: tuple[Floats, Floats]) -> Floats:
    """Return responsibilities in one run; see `triage.responsibility` for the form."""
    arrays = state.compiled.network.arrays
    base, silent = moved
    rows = state.rows
    odds = base[rows] / np.maximum(1.0 - base[rows], 1e-300)
    closed = responsibility(q, odds * state.compiled.ratio[rows] * silent[rows])
    share = np.clip(r / np.maximum(state.q, 1e-300), 0.0, 1.0)
    is_root = np.diff(arrays.pointer)[rows] == 0
    part: Floats = np.where(is_root, closed, q * share)
    return part


def _moved(p: Floats, noise: Floats) -> Floats:
    """Return probabilities moved in log odds; 0 and 1 stay."""
    inner = (p > 0.0) & (p < 1.0)
    odds = np.divide(p, 1.0 - p, out=np.ones_like(p), where=inner) * np.exp(noise)
    return np.where(inner, odds / (1.0 + odds), p)
