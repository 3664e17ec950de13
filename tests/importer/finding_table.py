"""Groups, choices, background rates of the findings: what the sources leave open.

Background rate (leak): P(the finding is there, no modelled cause behind it). The
sources give none but for review 10.1, so all are starting estimates:

* lamps .005, for every lamp has its own monitor and lights for little else;
* noises, vibrations, wear, things seen .02, for cars have them without any reason
  that a list of causes holds; direction, brakes and electrics .01;
* a freeze frame always shows *some* speed and *some* road, so the answers to those
  questions have the rate at which a code of unmodelled origin would show them;
* review 10.1: rust scale .5 in salted regions, .05 elsewhere; intermittent, recent
  work and "since ..." are remembered whatever the cause.
"""

from __future__ import annotations

from collections.abc import Mapping

__all__ = ["CHOICES", "GROUPS", "GROUP_LEAKS", "LEAKS", "SPECIFIC_OF"]

#: Group of each finding of review 7.1 (the catalogue's own tables give the others).
_GROUPS = {
    "lamp": "sy-lamp-airbag sy-lamp-mil sy-lamp-charge sy-lamp-pad-wear sy-lamp-parkbrake-flash"
    " sy-lamp-airsus sy-lamp-awd sy-lamp-keyon sy-lamp-clears-restart sy-assist-off"
    " sy-chime-brake sy-chime-start",
    "electrical": "sy-horn-dead sy-wheel-buttons-dead sy-dim-lights sy-slow-crank sy-gauges-dead"
    " sy-shift-locked sy-shift-harsh sy-speedo-dead sy-speedo-wrong sy-brake-lamps-wrong",
    "noise": "sy-pump-runs sy-selftest-noise sy-column-crunch sy-clunk-steer sy-rattle-column"
    " sy-hum-coast sy-hum-left-load sy-hum-right-load sy-chirp-rolling sy-click-straight"
    " sy-rub-lock",
    "brake": "sy-false-abs-high sy-pedal-hard sy-park-brake-poor sy-rear-lock-damp sy-held-back"
    " sy-smell-hot sy-wheel-dust-one sy-disc-face-rusty",
    "direction": "sy-bind-tight-turn sy-steer-jerk sy-steer-heavy-one-way sy-pull-follows-crown"
    " sy-pull-lead-swap sy-nose-dive sy-harsh-ride sy-steer-loose-sudden",
    "vibration": "sy-idle-shake",
    "seen": "sy-smell-grease sy-tyre-loses-air sy-vis-oil-strut sy-vis-wet-carpet",
    "when": "sy-only-after-sat sy-only-hot sy-only-cold sy-only-loaded sy-only-reversing"
    " sy-only-left-turn sy-only-right-turn sy-since-hit sy-since-tyres sy-since-work"
    " sy-since-battery",
}
GROUPS: Mapping[str, str] = {key: name for name, keys in _GROUPS.items() for key in keys.split()}

#: Background rate by group.
GROUP_LEAKS: Mapping[str, float] = {
    "noise": 0.02,
    "vibration": 0.02,
    "direction": 0.01,
    "wear": 0.02,
    "lamp": 0.005,
    "brake": 0.01,
    "seen": 0.02,
    "electrical": 0.01,
    "when": 0.02,
    "freeze-frame": 0.03,
}

#: Finding -> background rate in a salted and in a dry region.
LEAKS: Mapping[str, tuple[float, float]] = {
    "sy-vis-rust-scale": (0.5, 0.05),
    "sy-intermittent": (0.15, 0.15),
    "sy-since-work": (0.1, 0.1),
    "sy-vis-recent-work": (0.1, 0.1),
    "sy-lamp-after-service": (0.1, 0.1),
    "sy-since-tyres": (0.05, 0.05),
    "sy-since-battery": (0.05, 0.05),
    "sy-ff-odo-service": (0.05, 0.05),
    "sy-lamp-mil": (0.02, 0.02),  # the engine lights it for reasons of its own
    "sy-ff-straight": (0.2, 0.2),
    "sy-ff-mid": (0.15, 0.15),
    "sy-ff-standstill": (0.1, 0.1),
    "sy-ff-high": (0.1, 0.1),
    "sy-ff-wet-cold": (0.15, 0.05),
    "sy-ff-moveoff": (0.05, 0.05),
    "sy-ff-braking": (0.05, 0.05),
    "sy-ff-left-curve": (0.05, 0.05),
    "sy-ff-right-curve": (0.05, 0.05),
    # what could end a life keeps a small rate: its gate opens on one yes anyway
    "sy-knock-wheel-speed": (0.005, 0.005),
    "sy-steer-loose-sudden": (0.002, 0.002),
    "sy-pedal-low": (0.002, 0.002),
    "sy-vis-nut-rust-streak": (0.005, 0.002),
    "sy-vis-wheel-tilt": (0.005, 0.005),
    "sy-tyre-bulge": (0.005, 0.005),
}

#: Answers to one question, of which only one can hold (review 10.3).
_CHOICES = {
    "ch-ff-speed": "sy-ff-standstill sy-ff-walk sy-ff-moveoff sy-ff-mid sy-ff-high",
    "ch-ff-road": "sy-ff-straight sy-ff-left-curve sy-ff-right-curve",
    "ch-turn-side": "sy-only-left-turn sy-only-right-turn",
    "ch-hum-side": "sy-hum-left-load sy-hum-right-load",
    "ch-temperature": "sy-only-hot sy-only-cold",
    "ch-wear-edge": "sy-wear-inner sy-wear-outer",
    "ch-wear-crown": "sy-wear-shoulders sy-wear-centre",
}
CHOICES: Mapping[str, str] = {key: name for name, keys in _CHOICES.items() for key in keys.split()}

#: Special case -> the broader finding: one memory, scored once (end of review 7.2;
#: the two hum sides are ours: the side is a closer answer to the same swerve).
SPECIFIC_OF: Mapping[str, str] = {
    "sy-since-tyres": "sy-lamp-after-service",
    "sy-since-work": "sy-lamp-after-service",
    "sy-since-battery": "sy-lamp-after-service",
    "sy-ff-odo-service": "sy-lamp-after-service",
    "sy-hum-left-load": "sy-hum-load-shift",
    "sy-hum-right-load": "sy-hum-load-shift",
}
