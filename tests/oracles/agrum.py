"""The reference library pyAgrum as an oracle (an optional dependency of the tests).

The noisy-OR with *net* strengths is pyAgrum's `addNoisyORNet`. Its plain
`addNoisyOR` is an alias of the compound form, in which every strength already
contains the leak: with a leak above zero that is another network.

pyAgrum refuses a strength of zero, so such a link is left out, which is what a
strength of zero means. A likelihood ratio r goes in as virtual evidence (1, r).
"""

from __future__ import annotations

import math
import warnings

import pytest

from tests.oracles.documents import Answer, Document, Evidence, read_nodes

with warnings.catch_warnings():
    # its binary module announces types without a module name; turned into an error
    # in the middle of that import the warning would end the interpreter
    warnings.simplefilter("ignore")
    gum = pytest.importorskip("pyagrum", reason="pyAgrum is not installed")

__all__ = ["infer_with_agrum"]


def infer_with_agrum(document: Document, evidence: Evidence, *, compound: bool = False) -> Answer:
    """Return every node's posterior by pyAgrum's lazy propagation.

    Parameters
    ----------
    document : the plain network document
    evidence : node id to True, False or likelihood ratio
        Must be possible: pyAgrum raises on evidence of probability zero.
    compound : bool
        Read the strengths as compound. Wrong for this project's documents;
        the negative control uses it.
    """
    net = gum.BayesNet()
    add = net.addNoisyORCompound if compound else net.addNoisyORNet
    nodes = read_nodes(document)
    for node in nodes:
        variable = gum.LabelizedVariable(node.id, node.id, 2)
        if any(node.strengths.values()):
            add(variable, node.base)
        else:
            net.add(variable)
            net.cpt(node.id).fillWith([1.0 - node.base, node.base])
    for node in nodes:
        for parent, strength in node.strengths.items():
            if strength > 0.0:
                net.addWeightedArc(parent, node.id, strength)
    engine = gum.LazyPropagation(net)
    engine.setEvidence(
        {
            key: int(value) if isinstance(value, bool) else [1.0, value]
            for key, value in evidence.items()
        }
    )
    engine.makeInference()
    on = {node.id: float(engine.posterior(node.id)[1]) for node in nodes}
    return Answer(on, math.log(engine.evidenceProbability()))
