"""One term in words: nothing that the files say about it is left out."""

from __future__ import annotations

from pathlib import Path

import pytest

from graph.load import load_knowledge
from graph.view import view, view_text
from triage.errors import UnknownTermError

MINIMAL = load_knowledge(Path(__file__).parents[2] / "fixtures" / "minimal")


def test_a_cause_shows_what_it_makes_strongest_first() -> None:
    """The trainee follows the reasoning from the strongest path on."""
    seen = view(MINIMAL, "rc-bearing-play")

    assert [(line.other, line.link.strength) for line in seen.links_out] == [
        ("st-hub-play", 0.9),
        ("sy-hum", 0.6),
    ]
    assert seen.links_in == ()


def test_a_code_shows_the_links_of_its_star_family() -> None:
    """Links name the family; who looks at one code must still see them."""
    assert {line.link.id for line in view(MINIMAL, "dtc-wss-lf").links_in} == {"lk-0002", "lk-0004"}


def test_a_cause_shows_who_else_names_it() -> None:
    """Before a cause is changed, everything that hangs on it must be in sight."""
    assert view(MINIMAL, "rc-bearing-play").named_by == (
        ("rp-bearing", "fixes"),
        ("cx-wheel-off-recent", "odds"),
        ("vf-drive-front", "effects"),
    )


def test_the_text_names_mechanism_and_origin() -> None:
    """A number without its reason and its author is not to be shown."""
    text = view_text(MINIMAL, "st-hub-play")

    assert "worn raceways leave room for the balls to move (lk-0001)" in text
    assert "estimate, ag-first-draft, 2026-11-25, from src-memory" in text


def test_a_number_of_zero_is_said() -> None:
    """Nothing and nought are not the same."""
    shipped = load_knowledge()
    fact = next(
        fact
        for fact in shipped.facts.values()
        if any(effect.factor == 0.0 and not effect.link_to for effect in fact.effects)
    )
    term = next(e.term for e in fact.effects if e.factor == 0.0 and not e.link_to)

    assert f"{term} 0" in view_text(shipped, fact.id).replace(" front 0", " 0").replace(
        " rear 0", " 0"
    )


@pytest.mark.parametrize("term", ["rp-bearing", "ck-shake", "sg-wheel", "lk-0001", "family-wss"])
def test_every_kind_of_term_can_be_shown(term: str) -> None:
    """The command line takes any id."""
    assert f"({term}, " in view_text(MINIMAL, term)


def test_an_unknown_id_is_answered_with_the_nearest() -> None:
    """Most wrong ids are typing slips."""
    with pytest.raises(UnknownTermError, match="did you mean 'rc-bearing-play'"):
        view(MINIMAL, "rc-bearing-plya")
