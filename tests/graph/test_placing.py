"""Placing: kinds at places, links between places.

Expected places are worked out by hand from the meaning of the reach words.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from graph.load import load_knowledge
from graph.placing import (
    RELATIONS,
    covers,
    instance_id,
    level_of,
    place_knowledge,
)
from graph.terms import PLACES, SCOPES, Knowledge
from tests.graph.small import cause, code, finding, link, small, state
from triage.errors import KnowledgeError
from triage.gates import CORNERS

# (scope of the source, reach, scope of the target, arrows by hand)
CASES = [
    ("corner", "same-corner", "corner", "lf-lf rf-rf lr-lr rr-rr"),
    ("corner", "same-corner", "axle", "lf-front rf-front lr-rear rr-rear"),
    ("corner", "same-corner", "front-axle", "lf-front rf-front"),
    ("front-corner", "same-corner", "vehicle", "lf- rf-"),
    ("corner", "same-axle", "axle", "lf-front rf-front lr-rear rr-rear"),
    ("rear-corner", "same-axle", "corner", "lr-lr lr-rr rr-lr rr-rr"),
    ("axle", "same-axle", "axle", "front-front rear-rear"),
    ("front-axle", "same-axle", "corner", "front-lf front-rf"),
    ("axle", "same-axle", "vehicle", "front- rear-"),
    ("corner", "opp-side", "corner", "lf-rf rf-lf lr-rr rr-lr"),
    ("corner", "global", "vehicle", "lf- rf- lr- rr-"),
    ("vehicle", "global", "front-axle", "-front"),
    ("vehicle", "any-corner", "corner", "-lf -rf -lr -rr"),
    ("vehicle", "to-front", "corner", "-lf -rf"),
    ("vehicle", "to-rear", "axle", "-rear"),
    ("corner", "front>global", "vehicle", "lf- rf-"),
    ("corner", "left>global", "vehicle", "lf- lr-"),
    ("corner", "right>global", "vehicle", "rf- rr-"),
    ("axle", "rear>same-axle", "corner", "rear-lr rear-rr"),
    ("corner", "rear>same-axle", "axle", "lr-rear rr-rear"),
]


def arrows(knowledge: Knowledge) -> set[tuple[str, str]]:
    """Return all (source, target) node pairs."""
    placed = place_knowledge(knowledge)
    return {(a.source, a.target) for row in placed.into.values() for a in row}


@pytest.mark.parametrize(("scope", "reach", "to", "expected"), CASES)
def test_a_reach_word_joins_the_places_it_names(
    scope: str, reach: str, to: str, expected: str
) -> None:
    """A wrong relation puts a fault at the wrong wheel."""
    knowledge = small([link("rc-a", reach, "st-b")], cause("rc-a", scope), state("st-b", to))
    pairs = [pair.split("-") for pair in expected.split()]

    by_hand = {
        (instance_id("rc-a", s or "vehicle"), instance_id("st-b", t or "vehicle")) for s, t in pairs
    }

    assert arrows(knowledge) == by_hand


def test_the_reach_words_of_the_trade_are_all_swept() -> None:
    """Every word in the relation table and every prefix has a case above."""
    words = {reach.rpartition(">")[2] for _s, reach, _t, _e in CASES}
    prefixes = {reach.rpartition(">")[0] for _s, reach, _t, _e in CASES}

    assert words == {reach for _source, reach, _target in RELATIONS}
    assert prefixes == {"", "front", "rear", "left", "right"}


def test_a_star_family_reaches_the_code_of_the_same_corner() -> None:
    """The left front hub sets the left front code and no other."""
    codes = [
        code(f"dtc-w-{place}", f"C000{n}", place=place, family="dtc-w")
        for n, place in enumerate(("lf", "rf", "lr", "rr"))
    ]
    knowledge = small([link("st-a", "same-corner", "dtc-w-*")], state("st-a", "corner"), *codes)

    assert arrows(knowledge) == {
        (f"st-a@{place}", f"dtc-w-{place}") for place in ("lf", "rf", "lr", "rr")
    }


@pytest.mark.parametrize(
    ("scope", "reach", "to"),
    [
        ("vehicle", "same-corner", "corner"),
        ("vehicle", "global", "corner"),
        ("vehicle", "global", "axle"),
        ("corner", "to-front", "corner"),
        ("corner", "sideways", "corner"),
    ],
)
def test_a_combination_without_meaning_is_refused_by_name(scope: str, reach: str, to: str) -> None:
    """Dropping such a link silently would lose knowledge."""
    knowledge = small(
        [link("rc-a", reach, "st-b", key="lk-7")], cause("rc-a", scope), state("st-b", to)
    )

    with pytest.raises(KnowledgeError, match=r"lk-7 .*no meaning; allowed there"):
        place_knowledge(knowledge)


def test_a_link_that_joins_nothing_is_refused() -> None:
    """A front-only source cannot reach a rear-only target at the same corner."""
    knowledge = small(
        [link("rc-a", "same-corner", "st-b")],
        cause("rc-a", "front-corner"),
        state("st-b", "rear-corner"),
    )

    with pytest.raises(KnowledgeError, match="joins no two places"):
        place_knowledge(knowledge)


def test_a_link_to_an_unknown_term_is_refused() -> None:
    """A misspelt id must not vanish."""
    knowledge = small([link("rc-a", "global", "st-none")], cause("rc-a"))

    with pytest.raises(KnowledgeError, match=r"'st-none', which no file defines"):
        place_knowledge(knowledge)


def test_two_links_that_draw_one_arrow_leave_the_stronger() -> None:
    """One event described twice is not two independent chances."""
    knowledge = small(
        [link("rc-a", "global", "st-b", 0.3), link("rc-a", "front>global", "st-b", 0.5)],
        cause("rc-a", "axle"),
        state("st-b"),
    )
    placed = place_knowledge(knowledge)

    assert {p.id: p.strength for p in placed.parents["st-b"]} == {
        "rc-a@front": 0.5,
        "rc-a@rear": 0.3,
    }
    assert (placed.links, placed.merged) == (2, 1)


def test_a_deprecated_link_draws_nothing() -> None:
    """What is no longer believed is kept in the files only."""
    old = replace(link("rc-a", "global", "sy-b"), deprecated="wrong way round")
    knowledge = small([old], cause("rc-a"), finding("sy-b"))

    assert arrows(knowledge) == set()


def test_the_shipped_knowledge_places_to_the_counts_of_its_review() -> None:
    """The review counted 1340 links, 3049 located links and 833 linked nodes by program.

    Decision 0011 rejects 10 links and adds 111, one cause and 14 findings.
    The one node more has no link: a rear-only finding written with both axles.
    """
    knowledge = load_knowledge()
    placed = place_knowledge(knowledge)
    linked = {end for row in placed.into.values() for a in row for end in (a.source, a.target)}

    assert sum(not row.deprecated for row in knowledge.links) == 1340 - 10 + 111
    assert (placed.links, placed.merged) == (3301, 1)
    assert len(linked) == 860
    assert set(placed.nodes) - linked == {"sy-rear-lock-damp@front"}


def test_placing_is_done_once_for_one_knowledge() -> None:
    """What does not depend on the case is not worked out again."""
    knowledge = small([], cause("rc-a"))

    assert place_knowledge(knowledge) is place_knowledge(knowledge)
    assert place_knowledge(small([], cause("rc-a"))) is not place_knowledge(knowledge)


def test_every_place_is_made_of_corners_and_every_scope_of_places() -> None:
    """Covering is a matter of corners, so all places must be spelled out in them."""
    assert set(CORNERS) == set(PLACES)
    assert {place for row in SCOPES.values() for place in row} <= set(CORNERS)
    assert covers("left", "lr")
    assert not covers("left", "rr")
    assert [level_of(place) for place in ("rr", "rear", "vehicle")] == ["corner", "axle", "vehicle"]
