"""Practice cases in, `drypark-case/1` documents and a file with the truth out.

A case document holds what stands on the ticket when the question is asked: vehicle,
circumstances, codes, findings, the first snapshot's freeze-frame findings. What was
found later and what it really was goes into ``truth.json``.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from tests.importer_practice.words import CONTEXTS, DRIVES, UNLOCATED

__all__ = ["case_document", "convert_file", "snapshot_findings", "truth_of"]

KM_PER_MILE = 1.609344
#: A curve, in g of lateral acceleration, and the volts that count as low supply.
CURVE_G, LOW_VOLTS = 0.15, 10.5


def convert_file(source: Path, folder: Path) -> int:
    """Write one document for each case of `source` and the truth; return the count."""
    cases = json.loads(source.read_text(encoding="utf-8"))
    (folder / "cases").mkdir(parents=True, exist_ok=True)
    for case in cases:
        _write(folder / "cases" / f"{_number(case)}.json", case_document(case))
    _write(folder / "truth.json", {_number(case): truth_of(case) for case in cases})
    return len(cases)


def case_document(case: Mapping[str, Any]) -> dict[str, Any]:
    """Return the case document of one practice case, without its truth."""
    contexts = [key for phrase in case["context"] for key in CONTEXTS[phrase]]
    snapshot: dict[str, Any] = next(
        (c["freeze_frame"] for c in case["codes"] if c.get("freeze_frame")), {}
    )
    return {
        "format": "drypark-case/1",
        "case": f"practice-{_number(case)}",
        "vehicle": _vehicle(case["vehicle_class"], case["context"]),
        "context": list(dict.fromkeys(contexts)),
        "complaint": case["complaint"],
        "codes": [_code(code) for code in case["codes"]],
        "findings": [
            *(_finding(text, "present") for text in case["symptoms_present"]),
            *(_finding(key, "present") for key in snapshot_findings(snapshot)),
            *(_finding(text, "absent") for text in case["symptoms_absent"]),
        ],
        "verdicts": [],
    }


def truth_of(case: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is hidden: the causes, the expert's order, what each check showed."""
    return {
        "causes": [_located(row["cause"], row["loc"]) for row in case["hidden_truth"]],
        "expert_order": [_located(row["check"], row.get("loc")) for row in case["master_order"]],
        "results": [
            {
                "check": row["check"],
                **({"place": row["loc"]} if row.get("loc") else {}),
                "verdict": "found" if row["outcome"] == "positive" else "not-found",
                "reading": row["reading"],
            }
            for row in case["check_results"]
        ],
        "parts_swapper": case["parts_swapper"],
        "tags": case["tags"],
    }


def snapshot_findings(snapshot: Mapping[str, Any]) -> list[str]:
    """Return the freeze-frame findings that a snapshot states beyond doubt.

    A right-hand curve has negative lateral acceleration here. Speeds whose band
    needs the trend (walking pace, moving off) are left out.

    Examples
    --------
    >>> snapshot_findings({"speed_mph": 46, "lateral_g": -0.31, "brake": "off"})
    ['sy-ff-mid', 'sy-ff-right-curve']
    """
    speed, lateral = snapshot.get("speed_mph"), snapshot.get("lateral_g")
    steering = snapshot.get("steering_deg")
    tests = (
        ("sy-ff-low-voltage", snapshot.get("supply_v", LOW_VOLTS) < LOW_VOLTS),
        ("sy-ff-standstill", speed == 0),
        ("sy-ff-mid", speed is not None and 25 <= speed <= 50),
        ("sy-ff-high", speed is not None and speed > 55),
        ("sy-ff-straight", steering == 0 and abs(lateral or 0.0) <= CURVE_G),
        ("sy-ff-left-curve", lateral is not None and lateral > CURVE_G),
        ("sy-ff-right-curve", lateral is not None and lateral < -CURVE_G),
        ("sy-ff-braking", snapshot.get("brake") == "on"),
    )
    return [key for key, holds in tests if holds]


def _vehicle(words: str, context: Sequence[str]) -> dict[str, Any]:
    """Return the vehicle part; what nobody says stays null."""
    drives = [drive for word, drive in DRIVES.items() if word in words]
    miles = re.search(r"(\d+)k mi", words)
    ages = [
        re.fullmatch(r"(\d+) years( old)?", phrase) for phrase in [*context, *words.split(", ")]
    ]
    age = next((match for match in ages if match), None)
    salted: bool | None = True if "salted" in words else None
    if any("no rust belt" in phrase for phrase in context):
        salted = False
    return {
        "label": words,
        "drivetrain": drives[0] if drives else "unknown",
        "age_years": int(age[1]) if age else None,
        "odometer_km": round(int(miles[1]) * 1000 * KM_PER_MILE) if miles else None,
        "salted_roads": salted,
        "facts": [],
    }


def _code(code: Mapping[str, Any]) -> dict[str, Any]:
    """Return one code as a scan tool shows it; the layout is what nobody said."""
    return {
        "code": code["code"],
        "failure_type": code.get("failure_type", ""),
        "status": code.get("status_byte", "").removeprefix("0x"),
        "module": code.get("module", ""),
        "layout": "unknown",
    }


def _finding(text: str, state: str) -> dict[str, str]:
    """Return one finding written as id or id@place."""
    key, _, place = text.partition("@")
    located = {"place": place} if place and key not in UNLOCATED else {}
    return {"id": key, **located, "state": state}


def _number(case: Mapping[str, Any]) -> str:
    """Return the case's number; the rest of its id gives the truth away."""
    return str(case["id"]).partition("-")[0]


def _located(key: str, place: str | None) -> str:
    return key if place in (None, "central") else f"{key}@{place}"


def _write(path: Path, document: object) -> None:
    path.write_text(json.dumps(document, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def main(arguments: Iterable[str]) -> int:
    """Convert the file named first into the folder named second."""
    source, folder = (Path(argument) for argument in arguments)
    return convert_file(source, folder)
