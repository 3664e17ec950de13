"""Subject areas of causes and states, and the nature of each cause.

The area names the file a term is kept in. The nature says what kind of work proves
and cures it; a code should have a mechanical and an electrical or calibration one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from graph.terms import Cause, Code, Link

__all__ = ["CAUSE_AREAS", "NATURES", "SECTION_AREAS", "STATE_AREAS", "unexplained"]

#: Section of the catalogue -> area of its causes.
SECTION_AREAS: Mapping[str, str] = {
    "c.1": "hub",
    "c.2": "steering",
    "c.3": "suspension",
    "c.4": "driveline",
    "c.5": "brake",
    "c.6": "tyre",
    "c.7": "alignment",
    "c.8": "sensor",
    "c.9": "central",
}


def _by_term(areas: Mapping[str, str]) -> dict[str, str]:
    return {term: area for area, terms in areas.items() for term in terms.split()}


#: Area of each cause of the review.
CAUSE_AREAS: Mapping[str, str] = _by_term(
    {
        "steering": "rc-eps-torque-sensor rc-eps-feed-fault rc-rack-binding rc-ball-joint-seized"
        " rc-steering-pump-weak rc-steering-damper-worn",
        "driveline": "rc-diff-bearing-noise rc-exhaust-shield-loose",
        "suspension": "rc-height-sensor-fault",
        "brake": "rc-epb-fault rc-master-cylinder-bypass rc-rotor-surface-rust"
        " rc-brake-hardware-rattle",
        "tyre": "rc-tyre-flat-spot rc-tyre-worn-out rc-liner-rub",
        "central": "rc-abs-feed-fuse rc-brake-lamp-circuit rc-aftermarket-device",
    }
)

STATE_AREAS: Mapping[str, str] = _by_term(
    {
        "hub": "st-hub-play st-hub-runout st-clamp-loss st-wheel-separation-risk",
        "steering": "st-lash st-steer-friction st-eps-down",
        "suspension": "st-joint-play st-joint-separation-risk st-compliance st-bushing-windup"
        " st-ride-height-low",
        "alignment": "st-toe-change st-toe-front-total st-toe-split st-rear-toe st-thrust-angle"
        " st-camber-change st-cross-camber st-cross-caster st-caster-low"
        " st-straight-angle-offset",
        "tyre": "st-radius-mismatch st-conicity-force st-imbalance st-force-variation"
        " st-wheel-runout",
        "brake": "st-brake-drag st-brake-imbalance st-dtv st-pad-knockback st-hydraulic-leak",
        "driveline": "st-driveline-windup",
        "sensor": "st-wss-gap-large st-wss-gap-variation st-wss-dropout st-wss-early-fade"
        " st-wss-pulse-error st-wss-none st-wss-noise st-wss-bias st-wss-side-swap"
        " st-circuit-resistance st-circuit-open st-wss-trip st-wss-turn-dropout",
        "central": "st-sas-offset st-angle-yaw-mismatch st-imu-bias st-imu-tilt st-supply-low"
        " st-ground-high st-bus-fault st-signal-invalid-upstream st-esc-intervention"
        " st-speed-lost st-calibration-missing st-abs-unit-down st-supply-high",
    }
)

_NATURES = _by_term(
    {
        "electrical": "rc-clock-spring-damaged rc-eps-motor-fault rc-wss-sensor-failed"
        " rc-wss-harness-chafed rc-wss-connector-corroded rc-wss-wiring-swapped"
        " rc-sas-sensor-failed rc-imu-failed rc-brake-switch-fault rc-brake-pressure-sensor"
        " rc-abs-module-failed rc-abs-connector-corroded rc-ground-corroded rc-battery-weak"
        " rc-charging-fault rc-bus-wiring-fault rc-tpms-sensor-dead rc-engine-fault-upstream"
        " rc-eps-torque-sensor rc-eps-feed-fault rc-abs-feed-fuse rc-brake-lamp-circuit"
        " rc-epb-fault rc-height-sensor-fault rc-aftermarket-device",
        "calibration": "rc-sas-not-calibrated rc-imu-not-calibrated rc-module-config-wrong"
        " rc-tpms-not-relearned",
        "none": "rc-road-or-load rc-normal-operation",
    }
)


class _Natures(dict[str, str]):
    """Cause -> nature; what is not listed is mechanical."""

    def __missing__(self, key: str) -> str:
        return "mechanical"


NATURES: Mapping[str, str] = _Natures(_NATURES)


def unexplained(code: Code, causes: Mapping[str, Cause], links: Iterable[Link]) -> str:
    """Return why a code has no mechanical, or no other, cause; "" when it has both."""
    upstream = _upstream({code.id, f"{code.family}-*"}, list(links))
    natures = {causes[term].nature for term in upstream if term in causes}
    if "mechanical" not in natures:
        return _missing("mechanical", code.mechanical)
    if not natures & {"electrical", "calibration"}:
        return _missing("electrical", code.electrical)
    return ""


def _missing(nature: str, words: str) -> str:
    """Return the sentence for a nature that no cause of a code has."""
    if not words or words.startswith(("none", "as ")):
        return f"no {nature} cause of this code is known"
    return f"no cause of {nature} nature stands for: {words}"


def _upstream(targets: set[str], links: list[Link]) -> set[str]:
    """Return everything from which links lead to the targets."""
    found = set(targets)
    while True:
        new = {link.source for link in links if link.target in found} - found
        if not new:
            return found
        found |= new
