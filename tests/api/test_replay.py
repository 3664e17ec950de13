"""Replay: arithmetic by hand, the loop on drawn cars, the report, named cases."""

from __future__ import annotations

import io
import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from api.command import run as run_command
from api.replay.bench import Bench
from api.replay.cars import Garage, draw_car
from api.replay.cases import replay_cases
from api.replay.judge import OverBudgetError, judge
from api.replay.loop import LIMIT, PROOF, provable, run_strategy
from api.replay.picture import draw_calibration
from api.replay.report import MEASURES, report_document, show_report
from api.replay.run import Replay, Settings, simulate
from api.replay.single_fault import SingleFault
from api.replay.strategies import STRATEGIES
from api.replay.value import Catalogue
from api.terminal import Page
from graph.build import compile_network
from graph.compiled import CheckItem, VerdictNode
from graph.load import load_knowledge
from tests.builders import cause, finding, network_document
from triage.errors import DocumentError
from triage.exact import posterior
from triage.model import Network
from triage.score import calibration
from triage.simulate import sample_car
from triage.stakes import Stakes

CARS, WORK = 14, 2e5
PRACTICE = Path(__file__).parents[2] / "fixtures" / "practice"


@pytest.fixture(scope="module")
def replay() -> Replay:
    """Return a small replay in this process."""
    return simulate(Settings(CARS, 3, WORK, workers=1))


@pytest.fixture(scope="module")
def document(replay: Replay) -> dict[str, Any]:
    """Return its report."""
    return report_document(replay)


def _two_causes() -> Network:
    return Network.from_document(
        network_document(cause("a", 0.2), cause("b", 0.4), finding("hum", 0.1, a=0.5, b=0.25))
    )


def _offer(on: float, off: float, target: str = "a") -> CheckItem:
    verdict = VerdictNode(f"ck:{target}", target, "vehicle", on, off)
    return CheckItem("ck", "vehicle", "su-walk", 5.0, (verdict,))


def test_single_fault_scores_are_bayes_rule_over_hypotheses() -> None:
    """By hand: odds times likelihood, 0.25 * 0.55 and 2/3 * 0.325, shared out."""
    share = SingleFault(_two_causes()).posterior({"hum": True})
    a, b = 0.25 * (1 - 0.9 * 0.5), (0.4 / 0.6) * (1 - 0.9 * 0.75)
    assert share == pytest.approx([a / (a + b), b / (a + b)], rel=1e-12)


def test_single_fault_takes_a_ratio_on_a_cause() -> None:
    """A verdict with likelihood ratio 9 on one of two hypotheses, by hand."""
    share = SingleFault(_two_causes()).posterior({"a": 9.0})
    assert share[0] == pytest.approx(0.25 * 9 / (0.25 * 9 + 0.4 / 0.6), rel=1e-12)


def test_a_perfect_check_takes_the_whole_loss_of_its_cause() -> None:
    """Perfect information: expected loss after it is zero, by arithmetic."""
    stakes = Stakes(comeback=900.0, repair_default=300.0)
    book = Catalogue(_two_causes(), [_offer(1.0, 0.0)], stakes)
    gain = book.gain(np.array([0.4, 0.1]), np.array([0.3, 0.0]))
    assert gain[0, 0] == pytest.approx(min(900 * 0.3, 300 * 0.6), rel=1e-12)
    assert gain[0, 1] == 0.0


def test_a_check_that_tells_nothing_is_worth_nothing() -> None:
    """P(found) is the same either way: the loss does not move."""
    book = Catalogue(_two_causes(), [_offer(0.3, 0.3)], Stakes())
    gain = book.gain(np.array([0.4, 0.1]), np.array([0.3, 0.0]))
    assert gain[0, 0] == pytest.approx(0.0, abs=1e-9)


def test_a_sure_suspect_is_worth_a_look_only_when_repair_needs_a_find() -> None:
    """At 95 percent no answer changes the cheaper choice; but before a find none may be made."""
    stakes = Stakes(comeback=900.0, repair_default=300.0)
    book = Catalogue(_two_causes(), [_offer(0.8, 0.1)], stakes)
    q = np.array([0.95, 0.0])
    assert book.gain(q, q)[0, 0] == pytest.approx(0.0, abs=1e-9)
    nothing_found = np.array([False, False])
    worth = 0.8 * 900 * 0.95 - 0.1 * 300 * 0.05  # found when there, less what a false alarm costs
    larger = book.larger_gain((q, q), (nothing_found, np.array([True])))
    assert larger[0, 0] == pytest.approx(worth, rel=1e-12)


def test_work_over_the_budget_is_refused_before_it_is_done() -> None:
    """The budget is held against the predicted products."""
    with pytest.raises(OverBudgetError, match="budget"):
        judge(_two_causes(), {"hum": True}, 0.5)


def test_the_lean_standing_is_the_posterior() -> None:
    """Same numbers as the full way, for roots."""
    network = _two_causes()
    picture = judge(network, {"hum": True, "a": 3.0}, 1e6)
    full = posterior(network, {"hum": True, "a": 3.0}).causes
    assert dict(zip(network.causes, picture.q, strict=True)) == pytest.approx(full, rel=1e-12)


def test_every_car_is_counted_or_shown_as_left_out(document: dict[str, Any]) -> None:
    """Nothing disappears; and the small budget does leave some out and some in."""
    left = document["left_out"]
    assert document["counted"] + left["at_intake"] + left["in_the_loop"] == CARS
    assert document["counted"] >= 3
    assert left["at_intake"] >= 1


def test_every_strategy_meets_the_same_cars(document: dict[str, Any]) -> None:
    """Six rows, each measure over as many cars."""
    assert set(document["strategies"]) == set(STRATEGIES)
    assert len(STRATEGIES) == 6
    for key in MEASURES:
        assert len({row[key]["count"] for row in document["strategies"].values()}) == 1


def test_minutes_stay_within_the_day(replay: Replay) -> None:
    """The first proof is never after the last, the last never after the limit."""
    seen = 0
    for car in replay.counted:
        for outcome in car.outcomes.values():
            assert outcome.minutes <= LIMIT
            if car.provable:
                assert outcome.first <= outcome.minutes
            seen += 1
    assert seen == 6 * len(replay.counted)


@pytest.mark.slow
def test_cars_do_not_depend_on_the_number_of_processes(replay: Replay) -> None:
    """Each car has a stream of chance of its own."""
    other = simulate(Settings(4, 3, WORK, workers=2))
    for one, two in zip(replay.cars, other.cars, strict=False):
        assert (one.left_out, one.tries, one.truth) == (two.left_out, two.tries, two.truth)
        assert one.outcomes == two.outcomes
        assert np.array_equal(one.forecast, two.forecast)
    assert len(other.cars) == 4


@pytest.mark.slow
def test_a_provable_cause_is_proven_when_everything_is_heard() -> None:
    """Going through the whole book ends with all that can be proven, or at the limit."""
    garage, done = Garage(load_knowledge()), 0
    for number in range(24):
        generator = np.random.default_rng([9, number])
        bench = Bench(garage.knowledge, draw_car(garage, generator), WORK)
        try:
            left = provable(bench)
            outcome = run_strategy("book", bench, left, generator)
        except OverBudgetError:
            continue
        assert left <= bench.car.truth <= bench.car.present
        assert outcome.proven or outcome.minutes == LIMIT
        done += 1
    assert done >= 3
    assert PROOF > 0.5


@pytest.mark.slow
def test_the_engine_is_calibrated_when_silence_tells_nothing() -> None:
    """On the shipped network: what is asked is drawn first, whatever the answers.

    Outside reference: the draws themselves, which share no code with the elimination.
    """
    network = compile_network(load_knowledge())
    keys = [key for key in network.nodes if key.startswith(("dtc-", "sy-"))]
    forecasts, outcomes, expected, cars = [], [], 0.0, 0
    for number in range(160):
        generator = np.random.default_rng([2026, number])
        sample = sample_car(network, generator)
        asked = [keys[k] for k in generator.permutation(len(keys))[:25]]
        evidence = {key: bool(sample.on[network.arrays.index[key]]) for key in asked}
        try:
            picture = judge(network, evidence, WORK)
        except OverBudgetError:
            continue
        forecasts.append(picture.q)
        outcomes.append(sample.on[picture.rows].astype(float))
        expected += float(picture.q.sum())
        cars += 1
    assert cars >= 25
    came = float(np.concatenate(outcomes).sum())
    assert came == pytest.approx(expected, abs=4.0 * math.sqrt(expected))
    for entry in calibration(np.concatenate(forecasts), np.concatenate(outcomes)):
        assert abs(entry.observed - entry.forecast) <= 4.0 * entry.error + 1.0 / entry.count


def test_the_report_fits_eighty_columns(document: dict[str, Any]) -> None:
    """Every row of the text, tables included; and it says where its cars come from."""
    stream = io.StringIO()
    show_report(document, Page(stream, width=80))
    text = stream.getvalue()
    assert max(len(row) for row in text.splitlines()) <= 80
    assert "simulated from the model itself" in text
    assert "left out" in " ".join(text.split())
    for words in STRATEGIES.values():
        assert words in text


def test_the_report_without_a_counted_car_says_what_to_do() -> None:
    """Nothing is divided by zero."""
    stream = io.StringIO()
    empty = report_document(simulate(Settings(1, 3, 0.1, workers=1)))
    show_report(empty, Page(stream, width=80))
    assert "raise the budget" in stream.getvalue()


def test_the_document_is_plain_json(document: dict[str, Any]) -> None:
    """No not-a-number, no numpy."""
    again = json.loads(json.dumps(document, allow_nan=False))
    assert again["format"] == "drypark-replay/1"


def test_the_picture_is_a_png(document: dict[str, Any], tmp_path: Path) -> None:
    """First eight bytes of every PNG: ISO/IEC 15948, 5.2."""
    draw_calibration(document, tmp_path / "curve.png")
    assert (tmp_path / "curve.png").read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


def test_named_cases_are_ranked_or_counted_as_skipped(tmp_path: Path) -> None:
    """One with a truth, one without."""
    for name in ("v04", "v06"):
        text = (PRACTICE / "cases" / f"{name}.json").read_text(encoding="utf-8")
        (tmp_path / f"{name}.json").write_text(text, encoding="utf-8")
    truth = {"v06": {"causes": ["rc-sas-not-calibrated"]}}
    (tmp_path / "truth.json").write_text(json.dumps(truth), encoding="utf-8")
    ranked, skipped = replay_cases([str(tmp_path)], None, 2e8)[::-1]
    assert ranked.case == "v06"
    assert ranked.rank is not None
    assert ranked.rank >= 1
    assert (skipped.rank, skipped.skipped) == (None, "no truth is stated for it")


def test_a_case_over_the_budget_is_skipped_and_says_so() -> None:
    """With no work allowed, every practice case is skipped, none is lost."""
    rows = replay_cases([str(PRACTICE)], None, 0.5)
    assert len(rows) == len(list((PRACTICE / "cases").glob("*.json"))) > 0
    assert all("over the budget" in row.skipped for row in rows)


def test_a_folder_without_cases_is_refused(tmp_path: Path) -> None:
    """The error says what to name."""
    with pytest.raises(DocumentError, match=r"no case at .*; allowed: case documents"):
        replay_cases([str(tmp_path)], None, 1.0)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "nothing to replay"),
        (["x.json", "--simulate", "3"], "cases and simulated cars at once"),
        (["--simulate", "-1"], "number of cars is -1"),
        (["--simulate", "2", "--seed", "-4"], "start number is -4"),
        (["--simulate", "2", "--budget", "0"], "budget is 0.0"),
        (["--simulate", "2", "--picture", "nowhere/at/all.png"], "a folder that is not there"),
    ],
)
def test_bad_arguments_end_with_a_sentence(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit 2, one clear sentence, nothing on standard output."""
    assert run_command(["replay", *arguments]) == 2
    written = capsys.readouterr()
    assert words in written.err
    assert written.out == ""
