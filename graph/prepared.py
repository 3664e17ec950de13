"""A car made ready for its statements, and kept from one verdict to the next.

The one idea: a verdict changes what is known of the car, not the car. So the car, what can be
done on it and its network are made once for everything that was written up (vehicle, context,
codes, findings), and found again when only the verdicts are others. What is kept is never
changed; the last few cars are kept, by the identity of the knowledge.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from graph.car import Car, Ledger, make_car
from graph.case import CaseInput
from graph.compiled import CheckItem, VerdictNode
from graph.doings import Doing, doings_of, one_verdict_node
from graph.terms import Knowledge
from triage.model import Network, Node

__all__ = ["Prepared", "prepare"]

#: Cars kept, about a megabyte each; a shop has fewer in work at a time.
_KEPT: Final = 64
_NETWORKS: Final = 2  # of one car, which differ in the helpers that open places need


@dataclass(frozen=True, slots=True)
class Prepared:
    """A car before its statements are read.

    Attributes
    ----------
    car : of a case without verdicts
    doings : what can be done on it, by check
    offers : every doing as a check on offer, by the key of the doing
    """

    car: Car
    doings: Mapping[str, tuple[Doing, ...]]
    offers: Mapping[str, CheckItem]
    _nodes: Mapping[str, Node]  # with the one-verdict nodes, without helpers
    _networks: OrderedDict[tuple[Node, ...], Network] = field(default_factory=OrderedDict)

    def network(self, ledger: Ledger) -> Network:
        """Return the car's nodes with one-verdict nodes and the helpers of a ledger."""
        helpers = tuple(ledger.helpers.values())
        with _LOCK:
            found = self._networks.get(helpers)
        if found is None:
            found = Network({**self._nodes, **ledger.helpers}.values())
            with _LOCK:
                self._networks[helpers] = found
                while len(self._networks) > _NETWORKS:
                    self._networks.popitem(last=False)
        return found


def prepare(knowledge: Knowledge, case: CaseInput) -> Prepared:
    """Return the car of a case ready for its statements, with all of the case in it.

    Raises
    ------
    UnknownTermError, ContradictionError, ParameterError, KnowledgeError
        As `graph.car.make_car`.
    """
    key = (id(knowledge), replace(case, verdicts=()))
    with _LOCK:
        held = _HELD.get(key)
        if held is not None:
            _HELD.move_to_end(key)
    if held is None:
        held = (knowledge, _made(knowledge, key[1]))
        with _LOCK:
            _HELD[key] = held
            while len(_HELD) > _KEPT:
                _HELD.popitem(last=False)
    made = held[1]
    return replace(made, car=replace(made.car, case=case))


_LOCK = threading.Lock()
#: With each car the knowledge that it was made from: holding it keeps its identity unique.
_HELD: OrderedDict[tuple[int, CaseInput], tuple[Knowledge, Prepared]] = OrderedDict()


def _made(knowledge: Knowledge, case: CaseInput) -> Prepared:
    """Return a car made ready."""
    car = make_car(knowledge, case)
    doings = doings_of(car)
    nodes = dict(car.nodes)
    offers = {}
    for rows in doings.values():
        for doing in rows:
            check = doing.check
            if check.kind == "one-verdict":
                nodes[doing.key] = one_verdict_node(doing.key, doing.targets)
            offers[doing.key] = CheckItem(
                check.id, doing.place, check.setup, check.minutes, _verdicts(doing)
            )
    return Prepared(car, doings, offers, nodes)


def _verdicts(doing: Doing) -> tuple[VerdictNode, ...]:
    """Return the answers that a doing can give."""
    node = doing.key if doing.check.kind == "one-verdict" else None
    return tuple(
        VerdictNode(
            f"{doing.key}:{row.node}",
            row.node,
            row.place,
            row.sensitivity,
            1.0 - row.specificity,
            node,
        )
        for row in doing.targets
    )
