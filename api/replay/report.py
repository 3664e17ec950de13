"""A replay as a table of 80 columns, and as a plain document."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

import numpy as np
from rich.text import Text

from api.replay.loop import LIMIT, PROOF, Outcome
from api.replay.run import Replay
from api.replay.strategies import STRATEGIES
from api.terminal.page import Page
from triage.arrays import Floats
from triage.score import Bin, Estimate, brier, calibration, estimate

__all__ = ["report_document", "show_report"]

#: The measures: key -> (words, value of one car's outcome).
MEASURES: Mapping[str, tuple[str, Callable[[Outcome], float]]] = {
    "top1": ("true cause first at intake, share", lambda o: float(o.rank <= 1.0)),
    "top3": ("true cause in the first three, share", lambda o: float(o.rank <= 3.0)),
    "reciprocal_rank": ("1 / rank of the first true cause", lambda o: 1.0 / o.rank),
    "first_minutes": ("minutes until the first true cause is proven", lambda o: o.first),
    "minutes": ("minutes until every provable true cause is proven", lambda o: o.minutes),
    "proven": (f"all of them proven within {LIMIT:.0f} minutes, share", lambda o: float(o.proven)),
    "needless": ("parts bought needlessly, per car", lambda o: float(o.needless)),
    "missed": ("dangerous faults missed, per car", lambda o: float(o.missed)),
    "checks": ("checks done, per car", lambda o: float(o.checks)),
}
#: Measures of the loop, for cars in which at least one true cause can be proven.
OF_THE_LOOP = frozenset({"first_minutes", "minutes", "proven", "needless", "missed", "checks"})


def report_document(replay: Replay) -> dict[str, Any]:
    """Return the replay as plain values, ready for JSON; not-a-number becomes None."""
    cars = replay.counted
    document: dict[str, Any] = {
        "format": "drypark-replay/1",
        "what": "simulated from the model itself",
        "knowledge": {"version": replay.version, "sha256": replay.sha256},
        "seed": replay.settings.seed,
        "cars": len(replay.cars),
        "left_out": {
            "budget_products": replay.settings.work,
            "at_intake": sum(car.left_out == "intake" for car in replay.cars),
            "in_the_loop": sum(car.left_out == "loop" for car in replay.cars),
        },
        "counted": len(cars),
        "seconds": round(replay.seconds, 1),
        "proof": PROOF,
        "limit_minutes": LIMIT,
        "per_car": {
            "codes": _plain(estimate([car.codes for car in cars])),
            "true_causes": _plain(estimate([car.truth for car in cars])),
            "provable_true_causes": _plain(estimate([car.provable for car in cars])),
            "dangerous_faults": _plain(estimate([car.dangerous for car in cars])),
        },
        "with_a_provable_cause": sum(car.provable > 0 for car in cars),
        "strategies": {},
        "calibration": {},
    }
    for name in replay.settings.strategies:
        document["strategies"][name] = {
            "words": STRATEGIES[name],
            **{key: _plain(_measure(replay, name, key)) for key in MEASURES},
        }
    if cars:
        document["calibration"] = {
            "present": _scores(replay, 0),
            "true_cause": _scores(replay, 1),
        }
    return document


def _measure(replay: Replay, name: str, key: str) -> Estimate:
    """Return one measure of one strategy."""
    value = MEASURES[key][1]
    return estimate([value(outcome) for outcome in _outcomes(replay, name, key)])


def _outcomes(replay: Replay, name: str, key: str) -> list[Outcome]:
    """Return the outcomes over which a measure is taken."""
    cars = replay.counted
    return [car.outcomes[name] for car in cars if key not in OF_THE_LOOP or car.provable]


def _scores(replay: Replay, row: int) -> dict[str, Any]:
    """Return Brier scores and bins of posterior (row 0) or responsibility (row 1)."""
    forecast, outcome = forecasts(replay, row)
    prior = np.concatenate([car.prior for car in replay.counted])
    document: dict[str, Any] = {
        "count": int(forecast.size),
        "brier": brier(forecast, outcome),
        "mean_forecast_sum": float(forecast.sum() / len(replay.counted)),
        "mean_outcome_sum": float(outcome.sum() / len(replay.counted)),
        "bins": [asdict(entry) for entry in calibration(forecast, outcome)],
    }
    if row == 0:
        document["brier_of_priors"] = brier(prior, outcome)
    return document


def forecasts(replay: Replay, row: int) -> tuple[Floats, Floats]:
    """Return forecasts and outcomes of all causes of all cars; 0 present, 1 true cause."""
    cars = replay.counted
    forecast = np.concatenate([car.forecast[row] for car in cars])
    outcome = np.concatenate([car.outcome[row] for car in cars])
    return np.clip(forecast, 0.0, 1.0), outcome


def _plain(value: Estimate) -> dict[str, Any]:
    """Return an estimate without not-a-number."""
    return {
        key: None if isinstance(number, float) and math.isnan(number) else number
        for key, number in asdict(value).items()
    }


def show_report(document: dict[str, Any], page: Page) -> None:
    """Write a replay as text."""
    left = document["left_out"]
    page.heading("Replay", document["what"])
    page.line(
        f"{document['cars']} cars drawn from the network (start number {document['seed']}, "
        f"knowledge {document['knowledge']['version']}), {document['counted']} counted; left out "
        f"because one exact evaluation would take more than {left['budget_products']:.0e} "
        f"products: {left['at_intake']} at intake, {left['in_the_loop']} later. Those are the "
        "cars with the most entangled complaints, so the numbers below are for the easier ones. "
        f"{document['seconds']:.0f} s."
    )
    per = document["per_car"]
    page.line(
        f"A counted car has {_number(per['codes'])} codes, {_number(per['true_causes'])} true "
        f"causes, of which the checks there are can prove "
        f"{_number(per['provable_true_causes'])}, and {_number(per['dangerous_faults'])} "
        "dangerous faults. It says how well the list uses the model, not how well the model "
        "describes cars."
    )
    if not document["counted"]:
        page.line("No car is left to count: raise the budget or draw more cars.")
        return
    _table(document, page)
    for key, words in (("present", "Is it there?"), ("true_cause", "Has it a part in it?")):
        _calibration(words, document["calibration"][key], page)


def _table(document: dict[str, Any], page: Page) -> None:
    """Write the measures, one column for each strategy, errors below the means."""
    names = list(document["strategies"])
    page.gap()
    for name in names:
        page.item(name, document["strategies"][name]["words"], column=8)
    page.gap()
    wide = 11
    _row(page, "  " + "".join(f"{name:>{wide}}" for name in names))
    for key, (words, _) in MEASURES.items():
        count = document["strategies"][names[0]][key]["count"]
        page.line(f"{words} ({count} cars)")
        cells = [document["strategies"][name][key] for name in names]
        _row(page, "  " + "".join(f"{_digits(cell):>{wide}}" for cell in cells))
    page.line("Mean and, after the sign, one standard error.")


def _digits(cell: dict[str, Any]) -> str:
    """Return mean and error in at most ten characters."""
    mean, error = cell["mean"], cell["error"]
    if mean is None:
        return "-"
    places = 2 if abs(mean) < 10 else 0
    tail = "" if error is None else f"±{error:.{max(places, 0)}f}"
    return f"{mean:.{places}f}{tail}"


def _number(cell: dict[str, Any]) -> str:
    return "no" if cell["mean"] is None else f"{cell['mean']:.2f}"


def _calibration(words: str, scores: dict[str, Any], page: Page) -> None:
    """Write the calibration curve as text."""
    extra = ""
    if "brier_of_priors" in scores:
        extra = f" (the priors alone: {scores['brier_of_priors']:.4f})"
    page.heading(words, f"Brier {scores['brier']:.4f}{extra}")
    page.line(
        f"Expected per car {scores['mean_forecast_sum']:.2f}, came true "
        f"{scores['mean_outcome_sum']:.2f}.",
        indent=2,
    )
    _row(page, f"  {'forecast':>13} {'causes':>8} {'mean':>6} {'came true':>10}")
    for entry in scores["bins"]:
        band = f"{entry['low']:.2f} to {entry['high']:.2f}"
        mark = page.range_bar(0.0, min(entry["observed"], 1.0), entry["forecast"], columns=25)
        _row(
            page,
            f"  {band:>13} {entry['count']:>8} {entry['forecast']:>6.3f} "
            f"{entry['observed']:>10.3f} {mark}",
        )
    page.line("The line ends at the forecast, the dot is what came true.", indent=2)


def _row(page: Page, text: str) -> None:
    """Write a row of a table as it stands, columns kept."""
    page.console.print(Text(text), soft_wrap=True)


def bins_of(scores: dict[str, Any]) -> Sequence[Bin]:
    """Return the bins of a document's scores."""
    return [Bin(**entry) for entry in scores["bins"]]
