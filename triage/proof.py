"""Only proven faults get repaired: what finding a cause is worth.

The value of information lets a likely cause be repaired unseen: at 94 % the
decision is made, no answer of one check turns it, so the check that would show it
is worth nothing and is missing from the list. But a part is not replaced on a
probability: as long as no check has found cause i it can only be left, however
likely it is, and leaving it costs::

    leave  = comeback * r + danger_weight * danger * q
    value  = max(0, P(found | there) - P(found | not there)) * leave

So a check counts by how much oftener it says "found" when the cause is there than
when it is not, Youden's index [1]_: a check that cries wolf proves nothing, however
often it is right. What an answer says about other causes counts nothing here; the
value of information (`triage.value`) counts it, and the list takes the larger of the
two, cause by cause. With perfect checks and equal stakes this is the probability that
the check finds the fault: the numerator of probability over cost.

Charging each false alarm with the price of the repair instead was tried on simulated
cars, and took more than twice as long to a proof: where a cause is not likely yet the
charge eats all of the value, and the check is not made (decision 0009).

References
----------
.. [1] Youden, W. J. (1950). Index for rating diagnostic tests. Cancer 3(1), 32-35.
       (From memory.)
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from triage.arrays import Floats
from triage.stakes import Stakes
from triage.value import Offer, Outlook

__all__ = ["PROVEN", "proof_gain"]

#: Posterior from which a cause that a check has found counts as proven.
PROVEN = 0.9


def proof_gain(
    outlook: Outlook, offers: Sequence[Offer], stakes: Stakes, found: Collection[str] = ()
) -> Floats:
    """Return what proving each cause by each check is worth.

    Parameters
    ----------
    outlook : what is known now
    offers : the checks, in the order of ``outlook.gain``
    stakes : prices
    found : causes that a check has found already; at `PROVEN` or above their proof is
        worth nothing more

    Returns
    -------
    (offers, causes) array, >= 0
        A check that shows a cause in several verdicts counts the best one.
    """
    column = {cause: j for j, cause in enumerate(outlook.causes)}
    danger = np.array([stakes.danger.get(cause, 0.0) for cause in outlook.causes])
    leave = stakes.comeback * outlook.r + stakes.danger_weight * danger * outlook.q
    proven = {c for c, q in zip(outlook.causes, outlook.q, strict=True) if q >= PROVEN} & set(found)
    gain = np.zeros((len(offers), len(outlook.causes)))
    for k, offer in enumerate(offers):
        for verdict in offer.verdicts:
            j = column.get(verdict.target)
            if j is not None and verdict.target not in proven:
                index = verdict.p_found_if_on - verdict.p_found_if_off
                gain[k, j] = max(gain[k, j], index * leave[j])
    return gain
