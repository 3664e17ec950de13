"""Sampling a car from the network, and what its complaint really came from.

A noisy-OR network is a recipe: every node comes on by itself with its base, and
every link from a parent that is on switches it on with its strength. `sample_car`
draws all of that at once and keeps *which* links were active, so that the truth is
known in full: a cause is one of the **true causes** of a complaint when it is on and
a way of active links leads from it to one of the complaint's findings [1]_. The first
link alone, which `triage.responsibility` counts in closed form, is not enough here.

All chance comes from the generator that is handed in.

References
----------
.. [1] Pearl, J. (2000). Causality. Cambridge University Press, chapter 10
       (actual causation); with every link drawn, it is plain reachability.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from triage.arrays import Flags
from triage.model import Network
from triage.value import Offer

__all__ = ["CarSample", "sample_answers", "sample_car", "true_causes"]


@dataclass(frozen=True, slots=True)
class CarSample:
    """One car drawn from a network.

    Attributes
    ----------
    on : (nodes,) which nodes are on, rows as in `Network.arrays`
    active : (links,) which links would switch their child on, if the parent is on
    """

    on: Flags
    active: Flags


def sample_car(network: Network, generator: np.random.Generator) -> CarSample:
    """Draw every node and every link of a network.

    Parameters
    ----------
    network : Network
    generator : numpy generator; advanced by one number a node and one a link

    Examples
    --------
    >>> from triage.model import Node, Parent
    >>> network = Network([
    ...     Node("play", "cause", 1.0),
    ...     Node("hum", "finding", 0.0, (Parent("play", 1.0),)),
    ... ])
    >>> sample_car(network, np.random.default_rng(1)).on.tolist()
    [True, True]
    """
    arrays = network.arrays
    on = generator.random(arrays.base.size) < arrays.base
    active = generator.random(arrays.strengths.size) < arrays.strengths
    child = np.repeat(np.arange(arrays.base.size), np.diff(arrays.pointer))
    # Links stand in the topological order of their children: one pass is enough.
    drawn = np.flatnonzero(active)
    for parent, target in zip(arrays.parents[drawn].tolist(), child[drawn].tolist(), strict=True):
        if on[parent]:
            on[target] = True
    return CarSample(on, active)


def true_causes(network: Network, sample: CarSample, complaint: Iterable[str]) -> frozenset[str]:
    """Return the causes from which a way of active links leads to the complaint.

    Parameters
    ----------
    network : Network
    sample : a car drawn from it
    complaint : ids of findings, those that are off count nothing

    Raises
    ------
    UnknownTermError
        If an id of the complaint is not a node.
    """
    arrays = network.arrays
    keys = list(network.nodes)
    for key in complaint:
        network.require(key, where="complaint")
    stack = [arrays.index[key] for key in complaint if sample.on[arrays.index[key]]]
    seen: set[int] = set()
    while stack:
        row = stack.pop()
        if row in seen:
            continue
        seen.add(row)
        links = np.arange(arrays.pointer[row], arrays.pointer[row + 1])
        parents = arrays.parents[links[sample.active[links]]]
        stack.extend(int(parent) for parent in parents if sample.on[parent])
    return frozenset(keys[row] for row in seen if arrays.is_cause[row] == 1)


def sample_answers(
    network: Network, sample: CarSample, offers: Sequence[Offer], generator: np.random.Generator
) -> list[tuple[bool, ...]]:
    """Draw what each check would show on this car, one answer for each of its verdicts.

    A check with one verdict shows the state of its node in the sample, on every
    verdict alike. A located verdict is "found" with P(found | its target is on) or
    P(found | off). Answers are independent of one another given the car.

    Parameters
    ----------
    network : Network
    sample : a car drawn from it
    offers : checks, with their verdicts
    generator : numpy generator
    """
    index = network.arrays.index
    answers = []
    for offer in offers:
        draws = generator.random(len(offer.verdicts))
        found = []
        for verdict, draw in zip(offer.verdicts, draws, strict=True):
            if verdict.node is not None:
                found.append(bool(sample.on[index[verdict.node]]))
            else:
                is_on = sample.on[index[verdict.target]]
                found.append(
                    bool(draw < (verdict.p_found_if_on if is_on else verdict.p_found_if_off))
                )
        answers.append(tuple(found))
    return answers
