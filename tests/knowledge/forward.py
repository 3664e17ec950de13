"""Each cause put in alone, to see what such a car would look like.

`python -m tests.knowledge.forward [CAUSE ...]` prints, for each cause kind and each axle
that it can be at, its commonest effects with the share of cars that show them. All
background rates are off, so whatever is printed comes from the cause. A person who knows
cars reads the list and asks: is that what they look like? The draws come from a fixed
generator, so two runs print the same; a share of .5 is good to about .008.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping

import numpy as np
import numpy.typing as npt

from graph.build import compile_network
from graph.load import load_knowledge
from graph.terms import SCOPES, Knowledge
from triage.model import Network

__all__ = ["DRAWS", "chances_of", "effects_of", "first_places", "main"]

DRAWS = 4_000
GENERATOR = 20251125
SHOWN = 14

Effects = Mapping[str, float]


def effects_of(network: Network, node: str, draws: int = DRAWS) -> dict[str, float]:
    """Return the share of cars with only this cause that show each of its effects.

    Parameters
    ----------
    network : Network
        Of a car of which nothing is known.
    node : str
        The cause, with its place.
    draws : int, default 4000
        Cars drawn.

    Returns
    -------
    dict of node id to share in (0, 1]
        Effects that no draw showed are left out; commonest first.
    """
    return chances_of(network, (node,), draws)


def chances_of(network: Network, nodes: Iterable[str], draws: int = DRAWS) -> dict[str, float]:
    """Return the same for several causes that are all there."""
    generator = np.random.default_rng(GENERATOR)
    on: dict[str, npt.NDArray[np.bool_]] = {key: np.ones(draws, np.bool_) for key in nodes}
    given = set(on)
    for key, node in network.nodes.items():
        parents = [parent for parent in node.parents if parent.id in on]
        if key in given or not parents:
            continue
        silent = np.ones(draws)
        for parent in parents:
            silent *= np.where(on[parent.id], 1.0 - parent.strength, 1.0)
        drawn = generator.random(draws) >= silent
        if drawn.any():
            on[key] = drawn
    shares = {key: float(drawn.mean()) for key, drawn in on.items() if key not in given}
    return dict(sorted(shares.items(), key=lambda row: (-row[1], row[0])))


def first_places(scope: str) -> tuple[str, ...]:
    """Return one place for each axle that a scope knows.

    Examples
    --------
    >>> first_places("corner"), first_places("rear-axle"), first_places("vehicle")
    (('lf', 'lr'), ('rear',), ('vehicle',))
    """
    return tuple(place for place in SCOPES[scope] if place not in ("rf", "rr"))


def _lines(knowledge: Knowledge, network: Network, wanted: Iterable[str]) -> Iterable[str]:
    """Yield one line for each cause and place."""
    for key in wanted:
        for place in first_places(knowledge.causes[key].scope):
            node = key if place == "vehicle" else f"{key}@{place}"
            seen = {k: v for k, v in effects_of(network, node).items() if not k.startswith("ck-")}
            shown = [f"{name} {share:.2f}" for name, share in list(seen.items())[:SHOWN]]
            yield f"{node}: {', '.join(shown)}"


def main(wanted: list[str]) -> None:
    """Print the effects of the causes named, or of all."""
    knowledge = load_knowledge()
    network = compile_network(knowledge)
    for line in _lines(knowledge, network, wanted or list(knowledge.causes)):
        sys.stdout.write(line + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
