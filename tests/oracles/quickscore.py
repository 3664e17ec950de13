"""Quickscore: inclusion-exclusion over the positive findings, for two layers.

For findings F+ present and F- absent [1]_::

    P(F+, F-) = sum over S subset of F+ of (-1)^|S|
                * prod over f in S + F- of (1 - leak[f])
                * prod over causes c of (1 - prior[c] + prior[c] * kept[c])
    kept[c] = prod over f in S + F- of (1 - strength[c, f])

The sum alternates in sign: its terms are near 1, its value may be 1e-40. In
doubles nothing is left of it then. That makes it the negative control: on the
sets of findings where it fails an engine must still be right.

References
----------
.. [1] Heckerman, D. (1989). A tractable inference algorithm for diagnosing
       multiple diseases. UAI-89.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from tests.oracles.documents import Document, Evidence, OracleNode, read_nodes

__all__ = ["quickscore"]


def quickscore(document: Document, evidence: Evidence) -> tuple[dict[str, float], float]:
    """Return each cause's posterior and P(evidence) as doubles give them.

    Parameters
    ----------
    document : network of root causes and of findings without children
    evidence : finding id to True or False

    Returns
    -------
    tuple of mapping and float
        Not probabilities where cancellation has eaten them: they may be
        negative, above one or not a number.
    """
    nodes = read_nodes(document)
    causes = [node for node in nodes if node.kind == "cause"]
    findings = {node.id: node for node in nodes if node.kind == "finding"}
    if len(causes) + len(findings) < len(nodes) or any(cause.strengths for cause in causes):
        raise ValueError("Quickscore knows two layers only: root causes and findings")
    present = [findings[key] for key, value in evidence.items() if value is True]
    absent = [findings[key] for key, value in evidence.items() if value is False]
    number = np.arange(2 ** len(present))
    sign = np.ones(number.shape)
    silent = np.full(number.shape, np.prod([1.0 - finding.base for finding in absent]))
    for position, finding in enumerate(present):
        chosen = (number >> position & 1).astype(bool)
        sign = np.where(chosen, -sign, sign)
        silent = np.where(chosen, silent * (1.0 - finding.base), silent)
    inhibited = [_inhibited(cause, present, absent, number) for cause in causes]
    terms = sign * silent
    for cause, stays_off in zip(causes, inhibited, strict=True):
        terms = terms * (cause.base * stays_off + 1.0 - cause.base)
    total = float(terms.sum())
    with np.errstate(divide="ignore", invalid="ignore"):
        joint = {
            cause.id: terms * cause.base * stays_off / (cause.base * stays_off + 1.0 - cause.base)
            for cause, stays_off in zip(causes, inhibited, strict=True)
        }
        return {
            key: float(np.float64(part.sum()) / np.float64(total)) for key, part in joint.items()
        }, total


def _inhibited(
    cause: OracleNode,
    present: list[OracleNode],
    absent: list[OracleNode],
    number: npt.NDArray[np.int64],
) -> npt.NDArray[np.float64]:
    """Return, for each subset of the positives, P(this cause, if on, switches none of it on)."""
    kept = np.prod([1.0 - finding.strengths.get(cause.id, 0.0) for finding in absent])
    product = np.full(number.shape, kept)
    for position, finding in enumerate(present):
        chosen = (number >> position & 1).astype(bool)
        factor = 1.0 - finding.strengths.get(cause.id, 0.0)
        product = np.where(chosen, product * factor, product)
    return product
