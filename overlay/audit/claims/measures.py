"""What can be claimed of a trial: each measure, its dimension, and which way flatters the boat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from overlay.figures import unit_for

Favour = Literal["more", "less", "neither"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One measure.

    Parameters
    ----------
    name
        As results are named by; `time to …` and its like go on with the speeds of the ladder.
    quantity
        What its unit must measure.
    favour
        Which way flatters the boat.
    channels
        What it follows from in the logs.
    also
        What people call it beside its name.
    """

    name: str
    quantity: str
    favour: Favour
    channels: tuple[str, ...] = ("speed",)
    also: tuple[str, ...] = ()


def _of(
    name: str,
    quantity: str,
    favour: Favour,
    channels: str = "speed",
    *also: str,
) -> Measure:
    return Measure(
        name=name, quantity=quantity, favour=favour, channels=tuple(channels.split()), also=also
    )


_FUEL = "fuel_flow speed"

MEASURES: tuple[Measure, ...] = (
    _of("time to", "time", "less"),
    _of("distance to", "length", "less"),
    _of("time from", "time", "less", "speed", "roll-on"),
    _of("time to plane", "time", "less", "pitch speed", "time to get on the plane"),
    _of("speed on the plane", "speed", "neither", "pitch speed", "planing speed"),
    _of("bow rise", "angle", "less", "pitch"),
    _of("time with the bow high", "time", "less", "pitch"),
    _of("peak speed", "speed", "more"),
    _of("peak acceleration", "acceleration", "more", "speed acceleration"),
    _of("mean acceleration", "acceleration", "more"),
    _of("top speed", "speed", "more", "speed", "maximum speed", "fastest speed", "vmax"),
    _of("engine speed", "rotation", "neither", "engine_speed", "rpm", "revs"),
    _of("speed", "speed", "more", "speed", "boat speed"),
    _of("fuel flow", "volume_flow", "less", "fuel_flow", "fuel consumption", "flow", "fuel burn"),
    _of("economy", "economy", "more", _FUEL, "fuel economy", "distance per volume", "mileage"),
    _of("fuel per distance", "consumption", "less", _FUEL),
    _of("range", "length", "more", _FUEL),
    _of("endurance", "time", "more", "fuel_flow"),
    _of("running trim", "angle", "neither", "pitch", "trim", "trim angle"),
    _of("bow angle", "angle", "neither", "pitch", "pitch"),
    _of("slip", "ratio", "less", "speed engine_speed", "propeller slip"),
    _of("noise", "level", "less", "sound_level", "sound level", "noise level"),
    _of("best economy", "economy", "more", _FUEL),
    _of("best planing economy", "economy", "more", _FUEL, "best economy on the plane"),
    _of("best range", "length", "more", _FUEL),
    _of("best planing range", "length", "more", _FUEL, "best range on the plane"),
    _of("lowest planing speed", "speed", "neither", "speed", "least planing speed"),
    _of("weighted fuel flow", "volume_flow", "less", "fuel_flow", "weighted flow"),
    _of("mass", "mass", "neither", "", "weight", "test mass", "mass as tested"),
    _of("power to mass", "power_to_mass", "more", "", "power to weight"),
    _of("diameter", "length", "less", "speed turn_rate", "turning diameter"),
    _of("entry speed", "speed", "neither"),
    _of("least speed", "speed", "more", "speed", "lowest speed"),
    _of("heel", "angle", "neither", "roll", "heel angle"),
    _of("rate of turn", "turn_rate", "more", "turn_rate", "turn rate"),
    _of("sideways acceleration", "acceleration", "more", "speed turn_rate", "lateral acceleration"),
    _of("stopping time", "time", "less", "speed throttle", "time to stop"),
    _of("stopping distance", "length", "less", "speed throttle", "distance to stop"),
    _of("time", "time", "less", ""),
    _of("usable fuel", "volume", "neither", "", "usable tank", "tank", "usable tank volume"),
    _of("reserve", "ratio", "neither", ""),
    _of("power", "power", "more", "", "engine power", "rated power"),
)
"""All of them. Which way flatters is as trials are compared by (`overlay.analysis.comparing`), and
for what is not compared there: what a seller would rather have. The last three are no results:
a claim of them is held against other claims, and its dimension is checked."""

BY_NAME = {measure.name: measure for measure in MEASURES}

SPELLED = {spelling: measure for measure in MEASURES for spelling in (measure.name, *measure.also)}


_FAR = ("range", "best range", "best planing range")
_MADE_OF = {"economy": ("distance", "volume"), "consumption": ("volume", "distance")}


def usual_unit(measure: Measure, units: str) -> str:
    """The unit in which a set of units prints a measure."""
    if measure.quantity in _MADE_OF:
        over, under = _MADE_OF[measure.quantity]
        return f"{unit_for(over, units)}/{unit_for(under, units)}"
    if measure.quantity == "power_to_mass":
        return "kW/t"
    if measure.quantity == "length":
        return unit_for("distance" if measure.name in _FAR else "short_distance", units)
    return unit_for(measure.quantity, units)


def measure_in(text: str) -> Measure | None:
    """The measure that a text most likely speaks of: the longest that stands in it as words."""
    padded = f" {text} "
    found = [
        spelling
        for spelling in SPELLED
        if any(f"{before}{spelling}{after}" in padded for before in " :" for after in " :,")
    ]
    return SPELLED[max(found, key=len)] if found else None
