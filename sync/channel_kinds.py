"""Every channel name there is, what it measures, and what is physically possible for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelKind:
    """What a channel of a given name measures.

    `quantity` names its dimension in `sync.units`; `low` and `high` bound what is physically
    possible, in SI, and anything outside is a spike; `turns` says that the value is a
    direction, which wraps around at a full turn.
    """

    name: str
    quantity: str
    text: str
    low: float = -np.inf
    high: float = np.inf
    turns: bool = False


def _kinds(*kinds: ChannelKind) -> Mapping[str, ChannelKind]:
    return MappingProxyType({kind.name: kind for kind in kinds})


_TURN = 2 * np.pi

CHANNELS: Mapping[str, ChannelKind] = _kinds(
    ChannelKind(name="speed", quantity="speed", text="speed over ground", low=0, high=100),
    ChannelKind(name="water_speed", quantity="speed", text="speed through water", low=0, high=100),
    ChannelKind(name="course", quantity="angle", text="course over ground", turns=True),
    ChannelKind(name="heading", quantity="angle", text="true heading", turns=True),
    ChannelKind(name="magnetic_heading", quantity="angle", text="magnetic heading", turns=True),
    ChannelKind(name="latitude", quantity="degrees", text="latitude", low=-90, high=90),
    ChannelKind(name="longitude", quantity="degrees", text="longitude", low=-180, high=180),
    ChannelKind(name="altitude", quantity="length", text="altitude", low=-500, high=9000),
    ChannelKind(name="engine_speed", quantity="rotation", text="engine speed", low=0, high=300),
    ChannelKind(name="throttle", quantity="ratio", text="throttle opening", low=-0.2, high=1.2),
    ChannelKind(name="fuel_flow", quantity="volume_flow", text="fuel flow", low=0, high=1e-3),
    ChannelKind(
        name="fuel_supply", quantity="volume_flow", text="fuel to the engine", low=0, high=1e-2
    ),
    ChannelKind(
        name="fuel_return", quantity="volume_flow", text="fuel back to the tank", low=0, high=1e-2
    ),
    ChannelKind(
        name="gear", quantity="ratio", text="gear: -1 astern, 0 neutral, 1 ahead", low=-1, high=1
    ),
    ChannelKind(
        name="pitch", quantity="angle", text="pitch, bow up", low=-_TURN / 4, high=_TURN / 4
    ),
    ChannelKind(name="roll", quantity="angle", text="roll, starboard down", low=-_TURN, high=_TURN),
    ChannelKind(
        name="turn_rate", quantity="turn_rate", text="rate of turn, to starboard", low=-9, high=9
    ),
    ChannelKind(
        name="acceleration",
        quantity="acceleration",
        text="acceleration, forward",
        low=-400,
        high=400,
    ),
    ChannelKind(
        name="rudder", quantity="angle", text="rudder, to starboard", low=-_TURN / 4, high=_TURN / 4
    ),
    ChannelKind(
        name="variation", quantity="angle", text="magnetic variation, east", low=-4, high=4
    ),
    ChannelKind(name="trim", quantity="ratio", text="drive trim", low=-1.3, high=1.3),
    ChannelKind(name="engine_load", quantity="ratio", text="engine load", low=0, high=1.3),
    ChannelKind(name="engine_torque", quantity="ratio", text="engine torque", low=-1.3, high=1.3),
    ChannelKind(name="engine_hours", quantity="time", text="engine hours", low=0, high=1e9),
    ChannelKind(
        name="engine_temperature",
        quantity="temperature",
        text="coolant temperature",
        low=200,
        high=700,
    ),
    ChannelKind(
        name="oil_temperature", quantity="temperature", text="oil temperature", low=200, high=900
    ),
    ChannelKind(name="oil_pressure", quantity="pressure", text="oil pressure", low=0, high=5e6),
    ChannelKind(
        name="coolant_pressure", quantity="pressure", text="coolant pressure", low=0, high=5e6
    ),
    ChannelKind(name="fuel_pressure", quantity="pressure", text="fuel pressure", low=0, high=5e8),
    ChannelKind(name="boost_pressure", quantity="pressure", text="boost pressure", low=0, high=2e6),
    ChannelKind(name="voltage", quantity="voltage", text="alternator voltage", low=0, high=1000),
    ChannelKind(
        name="gear_oil_pressure", quantity="pressure", text="gear oil pressure", low=0, high=1e7
    ),
    ChannelKind(
        name="gear_oil_temperature",
        quantity="temperature",
        text="gear oil temperature",
        low=200,
        high=900,
    ),
    ChannelKind(name="trip_fuel", quantity="volume", text="fuel since reset", low=0, high=1e3),
    ChannelKind(name="fuel_level", quantity="ratio", text="fuel level", low=0, high=1.1),
    ChannelKind(
        name="water_temperature",
        quantity="temperature",
        text="water temperature",
        low=265,
        high=320,
    ),
    ChannelKind(
        name="air_temperature", quantity="temperature", text="air temperature", low=200, high=340
    ),
    ChannelKind(
        name="engine_room_temperature",
        quantity="temperature",
        text="engine room temperature",
        low=200,
        high=500,
    ),
    ChannelKind(
        name="exhaust_temperature",
        quantity="temperature",
        text="exhaust temperature",
        low=200,
        high=1500,
    ),
    ChannelKind(name="humidity", quantity="ratio", text="relative humidity", low=0, high=1.1),
    ChannelKind(name="air_pressure", quantity="pressure", text="air pressure", low=8e4, high=1.1e5),
    ChannelKind(
        name="apparent_wind_speed", quantity="speed", text="apparent wind speed", low=0, high=120
    ),
    ChannelKind(
        name="apparent_wind_angle", quantity="angle", text="apparent wind, from the bow", turns=True
    ),
    ChannelKind(name="true_wind_speed", quantity="speed", text="true wind speed", low=0, high=120),
    ChannelKind(
        name="true_wind_angle", quantity="angle", text="true wind, from the bow", turns=True
    ),
    ChannelKind(name="wind_from", quantity="angle", text="direction of the wind", turns=True),
    ChannelKind(
        name="sound_level", quantity="level", text="A-weighted sound level", low=0, high=160
    ),
)
"""Every channel name that the project knows. Angles are in radians and engine speed in
revolutions a second; places alone stay in degrees, as geodesy libraries take them.

The bounds are own choices, with no published source, but for those that a definition sets
(latitude, longitude, a quarter turn of pitch and rudder, shares of one with some room): wide
enough for every craft that is tested, so that what lies outside is a fault and no feat."""
