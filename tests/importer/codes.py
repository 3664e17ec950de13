"""Trouble codes: catalogue a.2, with the part that each code names."""

from __future__ import annotations

import re

from graph.terms import Code
from tests.importer.origins import catalogue
from tests.importer.tables import Row, plain, section

__all__ = ["part_causes", "read_codes"]

_CORNER = re.compile(r"^(dtc-(?:wss-supply|wss|tone|inlet))-(lf|rf|lr|rr)$")
_ANY_CODE = re.compile(r"\b[PCBU][0-9][0-9A-F]{3}\b")
_SHORTENED = re.compile(r"/([0-9A-F]{2})\b")

#: Numbers that carry this meaning in the earlier layout only.
_EARLIER_ONLY = frozenset({"dtc-wss-compare", "dtc-sas-old", "dtc-valve-relay"})

#: Cause -> the codes that name this part; corner families by their star name.
_NAMED_PARTS = {
    "rc-wss-sensor-failed": "dtc-wss dtc-wss-supply",
    "rc-sas-sensor-failed": "dtc-sas dtc-sas-signal-a dtc-sas-signal-b dtc-sas-old dtc-lost-sas"
    " dtc-inv-sas",
    "rc-imu-failed": "dtc-lat-accel dtc-long-accel dtc-yaw dtc-roll dtc-yaw-long dtc-imu"
    " dtc-lost-yaw dtc-lost-multiaxis",
    "rc-brake-switch-fault": "dtc-brake-sw-a dtc-brake-sw-corr dtc-brake-sw-p",
    "rc-brake-pressure-sensor": "dtc-brake-press",
    "rc-abs-module-failed": "dtc-inlet dtc-pump-motor dtc-valve-relay dtc-ecu-internal"
    " dtc-lost-abs dtc-lost-vdc dtc-inv-abs dtc-inv-vdc",
    "rc-booster-weak": "dtc-booster",
    "rc-eps-torque-sensor": "dtc-eps-torque",
    "rc-eps-motor-fault": "dtc-var-effort dtc-lost-eps dtc-inv-eps",
    "rc-tpms-sensor-dead": "dtc-tpms-sensor",
}
_PART = {code: part for part, codes in _NAMED_PARTS.items() for code in codes.split()}

#: Chance of a code for a reason nobody models: network and supply codes are litter.
_LEAKS = {"network": 0.003, "power": 0.003, "unrelated": 0.003}
_CORNER_LEAK, _OTHER_LEAK = 0.001, 0.002


def read_codes(
    text: dict[str, list[list[Row]]], review: dict[str, list[list[Row]]]
) -> dict[str, Code]:
    """Return the codes of a.2; their failure families come from review 3.2."""
    families = _failure_families(section(review, "3.2"))
    codes: dict[str, Code] = {}
    for row in section(text, "a.2"):
        key = row["id"]
        corner = _CORNER.match(key)
        family = corner.group(1) if corner else ""
        notation, earlier = _numbers(key, row["code"], row["earlier-layout alias"])
        codes[key] = Code(
            key,
            notation,
            earlier,
            row["conf"],
            row["group"],
            plain(row["watched quantity (own words)"]),
            plain(row["what it means mechanically first"]),
            plain(row["what it means electrically second"]),
            corner.group(2) if corner else "vehicle",
            family,
            families.get(f"{family}-*" if family else key, ""),
            _PART.get(family or key, ""),
            _LEAKS.get(row["group"], _CORNER_LEAK if corner else _OTHER_LEAK),
            catalogue("a.2"),
        )
    return codes


def part_causes() -> frozenset[str]:
    """Return the causes that are the failed part which some code names."""
    return frozenset(_NAMED_PARTS)


def _numbers(key: str, code: str, alias: str) -> tuple[str, tuple[str, ...]]:
    """Return the number in the current layout and those in the earlier one.

    Two layouts exist for the C0 range only: a P, B or U number is the same in both.
    """
    current = next(iter(_ANY_CODE.findall(code)), "")
    earlier = _ANY_CODE.findall(alias)
    for full in list(earlier):
        earlier += [full[:3] + tail for tail in _SHORTENED.findall(alias)]
    if key in _EARLIER_ONLY:
        current = ""
    if current[:1] in ("P", "B", "U"):
        earlier = [current]
    return current, tuple(earlier)


def _failure_families(rows: list[Row]) -> dict[str, str]:
    """Return code or star family -> the failure family of review 3.2."""
    names = re.compile(r"dtc-[a-z-]+(?:\*)?")
    return {code: row["family"] for row in rows for code in names.findall(row["codes"])}
