"""Only proven faults get repaired: what finding a cause is worth.

The value of information lets a likely cause be repaired unseen: at 94 % the
decision is made, no answer of one check turns it, so the check that would show it
is worth nothing and is missing from the list. But a part is not replaced on a
probability. As long as no check has found cause i it can only be left, however
likely it is, and leaving it costs ``leave = comeback * r + danger_weight * danger * q``.
What a check is worth is how far it brings that down, and there are two ways on
from a find:

* *at once*: the cheaper of leaving and repairing; a false alarm costs the repair::

      P(found | there) * leave - P(found | not there) * repair * (1 - q)

* *once it is proven*: repair from a posterior of 0.9 on. Where one find does not
  bring it there, another check that shows the same cause is made, the one that
  leaves the smallest loss, and its minutes are paid then. So a false alarm costs
  the minutes of looking again, and no repair.

The larger of the two counts. The first alone leaves out whatever starts at a few
per cent: the price of the false alarms eats its value, although the second look
is cheap. The second alone leaves out what two looks do not prove by themselves:
what else is heard on the way makes up for that often enough. A check that says
"found" no oftener when the cause is there than when it is not finds nothing.

What an answer says about *other* causes counts nothing here; the value of
information (`triage.value`) counts it, and the list takes the larger of both,
cause by cause. With perfect checks and equal stakes this is the probability that
the check finds the fault: the numerator of probability over cost. How this form was
chosen among seven is told in decision 0009.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from triage.arrays import Flags, Floats, Ints
from triage.stakes import Stakes
from triage.value import Offer, Outlook

__all__ = ["PROVEN", "Looks", "Suspects", "fall", "looks_of", "proof_gain", "spread"]
__all__ += ["suspects_of", "worth"]

#: Posterior from which a cause that a check has found counts as proven.
PROVEN = 0.9


@dataclass(frozen=True)
class Looks:
    """Every verdict that shows a cause: one row each, all arrays over the rows.

    Attributes
    ----------
    offer, cause : which check, and which cause it shows
    on, off : P(found | there), P(found | not there)
    price : of the minutes of its check
    fooled : (offers, shared reasons) which checks the same thing fools
    """

    offer: Ints
    cause: Ints
    on: Floats
    off: Floats
    price: Floats
    fooled: Flags

    @property
    def offers(self) -> int:
        """Return how many checks there are, those that show no cause among them."""
        return int(self.fooled.shape[0])

    def pairs(self, may: Flags | None = None) -> tuple[Ints, Ints]:
        """Return pairs of rows: a look, and another check's look at the same cause.

        A check that the same thing fools is no second look: it would say the same again.

        Parameters
        ----------
        may : (offers,) checks that can still be made, None for all: only they come second
        """
        first, second = self._pairs
        if may is None:
            return first, second
        open_ = may[self.offer[second]]
        return first[open_], second[open_]

    @cached_property
    def _pairs(self) -> tuple[Ints, Ints]:
        by_cause: dict[int, list[int]] = {}
        for row, cause in enumerate(self.cause.tolist()):
            by_cause.setdefault(cause, []).append(row)
        pairs = [
            (a, b)
            for rows in by_cause.values()
            for a in rows
            for b in rows
            if self.offer[a] != self.offer[b]
        ]
        table = np.array(pairs, np.int64).reshape(-1, 2)
        first, second = self.offer[table.T]
        table = table[~np.any(self.fooled[first] & self.fooled[second], axis=1)]
        return table[:, 0], table[:, 1]


@dataclass(frozen=True, slots=True)
class Suspects:
    """What is known of the causes and what is at stake; all arrays over the causes.

    Attributes
    ----------
    q : posterior
    leave : loss when it is left as it is now
    repair : price of its repair
    found : whether some check has found it
    """

    q: Floats
    leave: Floats
    repair: Floats
    found: Flags

    def losses(self, cause: Ints, q: Floats, found: Flags, least: float) -> Floats:
        """Return the loss of causes at other posteriors, repaired only if found and at `least`."""
        stake = np.divide(self.leave, self.q, out=np.zeros_like(self.q), where=self.q > 0.0)
        left = stake[cause] * q
        repaired = np.minimum(left, self.repair[cause] * (1.0 - q))
        out: Floats = np.where(found & (q >= least), repaired, left)
        return out


def worth(looks: Looks, suspects: Suspects, may: Flags | None = None) -> Floats:
    """Return (rows,): what each look is worth for the cause that it shows, >= 0.

    Parameters
    ----------
    looks, suspects : see there
    may : (offers,) checks that can still be made, None for all
    """
    at_once = fall(looks, suspects, 0.0)
    larger = np.maximum(at_once, fall(looks, suspects, PROVEN, looks.pairs(may)))
    return np.where(looks.on > looks.off, larger, 0.0)


def fall(
    looks: Looks, suspects: Suspects, least: float, again: tuple[Ints, Ints] | None = None
) -> Floats:
    """Return (rows,): the expected fall of the loss of the cause that each look shows.

    Parameters
    ----------
    looks, suspects : see there
    least : posterior from which a cause that was found may be repaired
    again : pairs of rows, from `Looks.pairs`: a find of the first may be looked at again by
        the second; the best one is, where that pays. None: there is no second look.

    Notes
    -----
    Posterior and part in the complaint move together: a verdict on a cause says
    nothing about which of its links acted.
    """
    q, known = suspects.q[looks.cause], suspects.found[looks.cause]
    chance, if_found, if_not = _heard(q, looks.on, looks.off)
    after = suspects.losses(looks.cause, if_found, np.ones_like(known), least)
    if again is not None:
        first, second = again
        p, both, one = _heard(if_found[first], looks.on[second], looks.off[second])
        cause, sure = looks.cause[second], np.ones(second.size, np.bool_)
        further = p * suspects.losses(cause, both, sure, least)
        further += (1.0 - p) * suspects.losses(cause, one, sure, least)
        np.minimum.at(after, first, looks.price[second] + further)
    silent = (1.0 - chance) * suspects.losses(looks.cause, if_not, known, least)
    now = suspects.losses(looks.cause, q, known, least)
    return np.maximum(now - chance * after - silent, 0.0)


def _heard(q: Floats, on: Floats, off: Floats) -> tuple[Floats, Floats, Floats]:
    """Return P(found), and the posterior after "found" and after "not found"."""
    found = q * on + (1.0 - q) * off
    silent = 1.0 - found
    after = np.divide(q * on, found, out=np.zeros_like(q), where=found > 0.0)
    other = np.divide(q * (1.0 - on), silent, out=np.zeros_like(q), where=silent > 0.0)
    return found, after, np.minimum(other, 1.0)


def spread(looks: Looks, values: Floats, shape: tuple[int, int]) -> Floats:
    """Return (offers, causes) from one number a row; of several the best counts."""
    gain = np.zeros(shape)
    np.maximum.at(gain, (looks.offer, looks.cause), values)
    return gain


def looks_of(
    causes: Sequence[str],
    offers: Sequence[Offer],
    per_minute: float,
    together: Sequence[Collection[str]] = (),
) -> Looks:
    """Return the looks that checks take at causes.

    Parameters
    ----------
    causes : ids, in the order of the arrays
    offers : checks
    per_minute : price of a minute
    together : groups of checks, by id, that the same thing fools
    """
    column = {cause: j for j, cause in enumerate(causes)}
    rows = [
        (k, column[v.target], v.p_found_if_on, v.p_found_if_off, per_minute * offer.minutes)
        for k, offer in enumerate(offers)
        for v in offer.verdicts
        if v.target in column
    ]
    table = np.array(rows, np.float64).reshape(-1, 5)
    offer, cause = table[:, 0].astype(np.int64), table[:, 1].astype(np.int64)
    fooled: Flags = np.array([[o.id in group for group in together] for o in offers], np.bool_)
    fooled = fooled.reshape(len(offers), len(together))
    return Looks(offer, cause, table[:, 2].copy(), table[:, 3].copy(), table[:, 4].copy(), fooled)


def suspects_of(
    causes: Sequence[str], chances: tuple[Floats, Floats], stakes: Stakes, found: Collection[str]
) -> Suspects:
    """Return what is known of the causes and at stake.

    Parameters
    ----------
    causes : ids, in the order of the arrays
    chances : (causes,) posterior and responsibility
    stakes : prices
    found : causes that a check has found already
    """
    q, r = chances
    danger = np.array([stakes.danger.get(cause, 0.0) for cause in causes])
    repair = np.array([stakes.repair.get(cause, stakes.repair_default) for cause in causes])
    known: Flags = np.array([cause in found for cause in causes], np.bool_)
    return Suspects(q, stakes.comeback * r + stakes.danger_weight * danger * q, repair, known)


def proof_gain(
    outlook: Outlook, looks: Looks, stakes: Stakes, found: Collection[str] = ()
) -> Floats:
    """Return what finding each cause by each check is worth.

    Parameters
    ----------
    outlook : what is known now
    looks : of the checks that can be made, from `looks_of`
    stakes : prices
    found : causes that a check has found already

    Returns
    -------
    (offers, causes) array, >= 0
        A check that shows a cause in several verdicts counts the best one.
    """
    causes = outlook.causes
    suspects = suspects_of(causes, (outlook.q, outlook.r), stakes, found)
    return spread(looks, worth(looks, suspects), (looks.offers, len(causes)))
