"""The account of the first cause: it adds up, it is sourced, it looks ahead."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from api.answering import accounting, answer_case
from api.documents import Answer, Why, read_case
from graph.build import compile_case
from graph.case import FindingSeen
from tests.api.answers import answer_to, demo, knowledge
from triage.exact import posterior
from triage.firmness import firmness

PRACTICE = Path(__file__).parents[2] / "fixtures" / "practice" / "cases"
NAMES = ("sensor-really-bad", "must-not-be-driven")


def _why(name: str) -> Why:
    why = answer_to(name).why
    assert why is not None
    return why


@pytest.mark.parametrize("name", NAMES)
def test_the_incremental_account_recombines_to_the_posterior(name: str) -> None:
    """House rule: parts must recombine to what they explain, here at 1e-9 of a chance."""
    why, first = _why(name), answer_to(name).causes[0]
    assert why.prior_decibans is not None

    whole = why.prior_decibans + sum(part.decibans for part in why.incremental)

    assert why.cause == first.id
    assert 1.0 / (1.0 + 10.0 ** (-whole / 10.0)) == pytest.approx(first.posterior, abs=1e-9)
    assert why.order


@pytest.mark.parametrize("name", NAMES)
def test_every_statement_of_the_case_stands_in_the_account_once(name: str) -> None:
    """Something left out would make the rest look heavier."""
    compiled = compile_case(knowledge(), demo(name))

    told = sorted(part.finding for part in _why(name).incremental)

    assert told == sorted(item.key for item in compiled.items)


@pytest.mark.parametrize("name", NAMES)
def test_every_link_of_a_path_has_its_mechanism_and_where_it_comes_from(name: str) -> None:
    """A trainee follows the physics; a senior asks who said so."""
    paths = _why(name).paths

    assert paths
    for path in paths:
        assert path.links[0].source == path.cause
        assert path.links[-1].target == path.finding
        strength = 1.0
        for link in path.links:
            strength *= link.strength
            assert link.mechanism
            assert link.origin.startswith("lk-")
        assert path.strength == pytest.approx(strength)


def test_two_answers_were_looked_at() -> None:
    """Partner of the sweeps."""
    assert len(NAMES) == 2


def test_the_contrast_is_with_the_part_that_the_code_names() -> None:
    """Why the nuts and not the sensor: the knock, and against it the code."""
    contrast = _why("must-not-be-driven").contrast
    assert contrast is not None

    weight = {row.finding: row.decibans for row in contrast.weights}

    assert contrast.other == "rc-wss-sensor-failed@lf"
    assert weight["sy-knock-wheel-speed@lf"] > 5.0
    assert weight["C0031-64"] < -5.0


def test_where_the_part_itself_is_first_the_contrast_is_with_the_runner_up() -> None:
    """A cause is not held against itself."""
    why = _why("sensor-really-bad")
    assert why.contrast is not None

    assert why.cause == "rc-wss-sensor-failed@rf"
    assert why.contrast.other == answer_to("sensor-really-bad").causes[1].id


def test_an_open_question_moves_the_first_cause_as_told() -> None:
    """Answering it for real must end where the row says it would."""
    case = demo("must-not-be-driven")
    row = next(r for r in _why("must-not-be-driven").would_change if r.kind == "finding")
    kind, _, place = row.id.partition("@")
    cause = _why("must-not-be-driven").cause

    for state, expected in (("present", row.if_yes), ("absent", row.if_no)):
        seen = FindingSeen(kind, state, place or None)
        compiled = compile_case(knowledge(), replace(case, findings=(*case.findings, seen)))
        told = posterior(compiled.network, compiled.evidence).causes[cause]
        # taken as if the parents of an unasked finding were independent: two in a hundred
        assert told == pytest.approx(expected, abs=0.02)


def test_what_would_change_most_comes_first_and_has_words() -> None:
    """A person reads the first one or two, and reads words."""
    answer: Answer = answer_to("must-not-be-driven")
    rows = _why("must-not-be-driven").would_change

    def moved(k: int) -> float:
        row = rows[k]
        here = row.chance * row.if_yes + (1.0 - row.chance) * row.if_no
        return row.chance * abs(row.if_yes - here) + (1.0 - row.chance) * abs(row.if_no - here)

    assert {row.kind for row in rows} == {"finding", "check"}
    assert [moved(k) for k in range(len(rows))] == sorted(
        map(moved, range(len(rows))), reverse=True
    )
    assert answer.changes_most == tuple(row.id for row in rows)
    assert all(answer.label(row.id) != row.id for row in rows)


def test_firmness_says_how_many_answers_it_rests_on() -> None:
    """A share of four and a share of two hundred are not the same."""
    sensor, nuts = _why("sensor-really-bad"), _why("must-not-be-driven")

    assert sensor.perturbations >= 4
    assert sensor.firm_top is not None
    assert sensor.firm_check is not None
    assert nuts.firm_top == 1.0
    assert nuts.firm_check is None  # the gate says what comes next


@pytest.mark.parametrize("case", ["v29", "v35", "v41"])
def test_without_noise_first_cause_and_next_check_stay_in_every_run(
    case: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The next check that is judged is the one on the list, its rules and all."""
    monkeypatch.setattr(accounting, "firmness", partial(firmness, width=0.0))
    read = read_case(PRACTICE / f"{case}.json")

    why = answer_case(knowledge(), read.to_input(), case_id=case, shop=read.shop).why

    assert why is not None
    assert why.perturbations >= 8
    assert (why.firm_top, why.firm_check) == (1.0, 1.0)
