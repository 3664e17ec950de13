"""The small tables that turn a practice case's words into ids.

Every context phrase that occurs is listed, with nothing beside it when it says
nothing that moves a prior; a phrase that is not listed stops the conversion.
"""

from __future__ import annotations

from collections.abc import Mapping

__all__ = ["CONTEXTS", "DRIVES", "UNLOCATED"]

#: Word in the vehicle class -> drive.
DRIVES: Mapping[str, str] = {"FWD": "fwd", "RWD": "rwd", "AWD": "awd", "4WD": "4wd"}

#: Findings that are told of the whole car; a corner beside them is a guess and is dropped.
UNLOCATED = frozenset({"sy-hum-load-shift"})

#: Context phrase -> contexts.
CONTEXTS: Mapping[str, tuple[str, ...]] = {
    "7 years": (),
    "9 years old": (),
    "ABS lamp": (),
    "ABS lamp since": (),
    "LF bearing replaced by owner last week": ("cx-hub-axle-recent",),
    "RF caliper and pads 6 weeks ago": ("cx-brake-work-recent",),
    "alignment done 3 days ago elsewhere": ("cx-steering-alignment-recent",),
    "alignment done after": ("cx-steering-alignment-recent",),
    "battery replaced last month, inertial zero never set": ("cx-battery-recent",),
    "both front lower arms replaced by another shop, car hanging when tightened": (
        "cx-suspension-recent",
    ),
    "came in for ABS light; undercoated last fall": (),
    "clunk and lean": (),
    "engine lamp also on, flashing at times": ("cx-engine-lamp",),
    "flat tyre last week, compact spare still on": ("cx-wheel-off-recent",),
    "front-left tyre slightly cupped": (),
    "left rear lateral link joint torn": (),
    "no codes": (),
    "no recent work": (),
    "no rust belt; no work": (),
    "no work, no water": (),
    "occurs after 30 minutes": (),
    "one tyre replaced after blowout 2 weeks ago, road-side shop": ("cx-tyres-recent",),
    "original sensors": (),
    "other wheel size in donor": (),
    "pedal slowly falls at lights": (),
    "rack replaced last month, same feel": ("cx-steering-alignment-recent",),
    "rack replaced last week, wheel not locked": ("cx-steering-alignment-recent",),
    "rotors and pads 3 times in 2 years": (),
    "steering wheel is straight": (),
    "two new front tyres, rear at 4/32, same size": ("cx-tyres-recent",),
    "tyres fitted elsewhere 60 miles ago": ("cx-tyres-recent", "cx-wheel-off-recent"),
    "used ABS unit fitted elsewhere": ("cx-module-recent",),
    "winch ground added by owner": ("cx-aftermarket-device",),
    "winter wheels without sensors in winter, summer set just refitted": ("cx-winter-wheels",),
}
