"""What each channel measures, within which bounds a value can be, and what turns around.

The bounds are the project's own, as `trialreel` prints them where it leaves out a value as one that
cannot be. A test holds this list against the product's.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

ANY = (-math.inf, math.inf)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What a channel measures, in SI."""

    quantity: str
    low: float
    high: float
    turns: bool = False


_QUARTER = math.pi / 2

_ROWS: tuple[tuple[str, str, tuple[float, float]], ...] = (
    ("speed", "speed", (0, 100)),
    ("water_speed", "speed", (0, 100)),
    ("latitude", "degrees", (-90, 90)),
    ("longitude", "degrees", (-180, 180)),
    ("altitude", "length", (-500, 9000)),
    ("engine_speed", "rotation", (0, 300)),
    ("throttle", "ratio", (-0.2, 1.2)),
    ("fuel_flow", "volume_flow", (0, 1e-3)),
    ("fuel_supply", "volume_flow", (0, 1e-2)),
    ("fuel_return", "volume_flow", (0, 1e-2)),
    ("gear", "ratio", (-1, 1)),
    ("pitch", "angle", (-_QUARTER, _QUARTER)),
    ("roll", "angle", (-4 * _QUARTER, 4 * _QUARTER)),
    ("turn_rate", "turn_rate", (-9, 9)),
    ("acceleration", "acceleration", (-400, 400)),
    ("rudder", "angle", (-_QUARTER, _QUARTER)),
    ("variation", "angle", (-4, 4)),
    ("trim", "ratio", (-1.3, 1.3)),
    ("engine_load", "ratio", (0, 1.3)),
    ("engine_torque", "ratio", (-1.3, 1.3)),
    ("engine_hours", "time", (0, 1e9)),
    ("engine_temperature", "temperature", (200, 700)),
    ("oil_temperature", "temperature", (200, 900)),
    ("oil_pressure", "pressure", (0, 5e6)),
    ("coolant_pressure", "pressure", (0, 5e6)),
    ("fuel_pressure", "pressure", (0, 5e8)),
    ("boost_pressure", "pressure", (0, 2e6)),
    ("voltage", "voltage", (0, 1000)),
    ("gear_oil_pressure", "pressure", (0, 1e7)),
    ("gear_oil_temperature", "temperature", (200, 900)),
    ("trip_fuel", "volume", (0, 1e3)),
    ("fuel_level", "ratio", (0, 1.1)),
    ("water_temperature", "temperature", (265, 320)),
    ("air_temperature", "temperature", (200, 340)),
    ("engine_room_temperature", "temperature", (200, 500)),
    ("exhaust_temperature", "temperature", (200, 1500)),
    ("humidity", "ratio", (0, 1.1)),
    ("air_pressure", "pressure", (8e4, 1.1e5)),
    ("apparent_wind_speed", "speed", (0, 120)),
    ("true_wind_speed", "speed", (0, 120)),
    ("sound_level", "level", (0, 160)),
)

_TURNING = (
    "course",
    "heading",
    "magnetic_heading",
    "apparent_wind_angle",
    "true_wind_angle",
    "wind_from",
)

KINDS: Mapping[str, Kind] = MappingProxyType(
    {name: Kind(quantity=quantity, low=low, high=high) for name, quantity, (low, high) in _ROWS}
    | {name: Kind(quantity="angle", low=ANY[0], high=ANY[1], turns=True) for name in _TURNING}
)
"""All channels by name."""


def kind_of(key: str) -> Kind:
    """The kind of a channel by its key: `engine_speed.1` is an engine speed."""
    return KINDS[key.partition(".")[0]]
