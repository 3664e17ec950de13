"""Evidence as a person gives it, read into arrays."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from triage.arrays import Floats, Ints
from triage.errors import ParameterError
from triage.folding import Links
from triage.model import Network

__all__ = ["Evidence", "links_of", "read_evidence"]

#: Evidence by node id: present, absent, or P(observed | on) / P(observed | off).
Evidence = Mapping[str, bool | float]


def links_of(network: Network) -> Links:
    """Return the network as the kernel takes it."""
    arrays = network.arrays
    return Links(arrays.base, arrays.pointer, arrays.parents, arrays.strengths)


def read_evidence(network: Network, evidence: Evidence) -> tuple[Ints, Ints, Floats]:
    """Return evidence that says anything as arrays: rows, states, and likelihood ratios.

    The state of soft evidence is -1; a likelihood ratio of one says nothing.

    Raises
    ------
    UnknownTermError
        If an id is not a node of the network.
    ParameterError
        If a likelihood ratio is not a finite number above zero.
    """
    index = network.arrays.index
    rows, states, ratios = [], [], []
    for key, value in evidence.items():
        row = index.get(key, -1)
        if row < 0:
            network.require(key)
        if isinstance(value, (bool, np.bool_)):
            state, ratio = int(value), 1.0
        elif math.isfinite(value) and value > 0.0:
            state, ratio = -1, float(value)
        else:
            raise ParameterError(
                "likelihood ratio",
                value,
                allowed="(0, inf)",
                where=repr(key),
                remedy="use True or False for what is certain",
            )
        if state >= 0 or ratio != 1.0:
            rows.append(row)
            states.append(state)
            ratios.append(ratio)
    return np.array(rows, np.int64), np.array(states, np.int64), np.array(ratios, np.float64)
