"""Only proven faults get repaired: what finding a cause is worth.

The value of information lets a likely cause be repaired unseen: at 94 % the
decision is made, no answer of one check turns it, so the check that would show it
is worth nothing and is missing from the list. But a part is not replaced on a
probability. As long as no check has found cause i it can only be left, however
likely it is; what has been found is left or repaired, whichever is cheaper. The
expected fall of this loss by a check that shows the cause itself is closed form::

    leave  = comeback * r + danger_weight * danger * q
    value  = max(0, P(found | there) * leave - P(found | not there) * repair * (1 - q))

because given "found" both r and q shrink or grow by the same factor. It is never
negative. What an answer says about other causes counts nothing here; the value of
information (`triage.value`) counts it, and the list takes the larger of the two,
cause by cause. With perfect checks and equal stakes this is the probability that
the check finds the fault: the numerator of probability over cost.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from triage.arrays import Floats
from triage.stakes import Stakes
from triage.value import Offer, Outlook

__all__ = ["proof_gain"]


def proof_gain(
    outlook: Outlook, offers: Sequence[Offer], stakes: Stakes, found: Collection[str] = ()
) -> Floats:
    """Return the expected fall of each cause's loss when only what was found is repaired.

    Parameters
    ----------
    outlook : what is known now
    offers : the checks, in the order of ``outlook.gain``
    stakes : prices
    found : causes that a check has found already; their proof is worth nothing more

    Returns
    -------
    (offers, causes) array, >= 0
        A check that shows a cause in several verdicts counts the best one.
    """
    column = {cause: j for j, cause in enumerate(outlook.causes)}
    danger = np.array([stakes.danger.get(cause, 0.0) for cause in outlook.causes])
    repair = np.array([stakes.repair.get(cause, stakes.repair_default) for cause in outlook.causes])
    leave = stakes.comeback * outlook.r + stakes.danger_weight * danger * outlook.q
    wasted = repair * (1.0 - outlook.q)
    gain = np.zeros((len(offers), len(outlook.causes)))
    for k, offer in enumerate(offers):
        for verdict in offer.verdicts:
            j = column.get(verdict.target)
            if j is not None and verdict.target not in found:
                worth = verdict.p_found_if_on * leave[j] - verdict.p_found_if_off * wasted[j]
                gain[k, j] = max(gain[k, j], worth)
    return gain
