"""The names under which tables keep their columns: common practice, no published source."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

CHANNEL_NAMES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "speed": ("speed", "sog", "speed over ground", "gps speed", "ground speed"),
        "water_speed": ("stw", "speed through water", "water speed"),
        "course": ("cog", "course", "course over ground", "track"),
        "heading": ("heading", "hdg", "true heading", "heading true", "hdt"),
        "magnetic_heading": ("magnetic heading", "heading magnetic", "compass", "hdm"),
        "latitude": ("latitude", "lat"),
        "longitude": ("longitude", "lon", "long", "lng"),
        "altitude": ("altitude", "alt"),
        "engine_speed": ("rpm", "engine speed", "engine rpm", "revs", "engine revs"),
        "throttle": ("throttle", "throttle position", "throttle opening", "tps"),
        "fuel_flow": ("fuel flow", "fuel rate", "flow", "fuel consumption", "fuel burn"),
        "fuel_supply": ("fuel supply", "fuel supply flow", "supply flow", "fuel feed"),
        "fuel_return": ("fuel return", "fuel return flow", "return flow"),
        "gear": ("gear", "gear position", "shift"),
        "pitch": ("pitch", "pitch angle"),
        "roll": ("roll", "roll angle", "heel", "heel angle"),
        "turn_rate": ("turn rate", "rate of turn", "rot", "yaw rate"),
        "acceleration": (
            "acceleration", "accel", "acc", "accel x", "acc x", "ax", "acceleration x",
            "forward acceleration", "longitudinal acceleration",
        ),
        "rudder": ("rudder", "rudder angle", "rudder position"),
        "variation": ("variation", "magnetic variation", "declination", "magnetic declination"),
        "trim": ("trim", "drive trim", "trim position", "engine trim"),
        "engine_load": ("engine load", "load", "percent load"),
        "engine_torque": ("engine torque", "torque", "percent torque"),
        "engine_hours": ("engine hours", "hours run", "running hours", "total engine hours"),
        "engine_temperature": (
            "engine temperature", "coolant temperature", "engine coolant temperature",
            "coolant temp", "engine temp", "engine coolant temp", "ect",
        ),
        "oil_temperature": (
            "oil temperature", "engine oil temperature", "oil temp", "engine oil temp",
        ),
        "oil_pressure": ("oil pressure", "engine oil pressure", "oil press"),
        "coolant_pressure": ("coolant pressure", "engine coolant pressure", "cooling pressure"),
        "fuel_pressure": ("fuel pressure", "fuel press", "fuel rail pressure", "rail pressure"),
        "boost_pressure": ("boost pressure", "boost", "manifold pressure", "charge pressure"),
        "voltage": (
            "voltage", "battery voltage", "alternator voltage", "alternator potential", "volts",
        ),
        "gear_oil_pressure": (
            "gear oil pressure", "transmission oil pressure", "gearbox oil pressure",
        ),
        "gear_oil_temperature": (
            "gear oil temperature", "transmission oil temperature", "gearbox oil temperature",
            "gear oil temp",
        ),
        "trip_fuel": ("trip fuel", "trip fuel used", "fuel used", "fuel since reset"),
        "fuel_level": ("fuel level", "tank level", "fuel tank level"),
        "water_temperature": (
            "water temperature", "sea temperature", "sea water temperature", "water temp",
            "sea temp", "sea surface temperature",
        ),
        "air_temperature": (
            "air temperature", "outside temperature", "air temp", "outside air temperature",
            "ambient temperature",
        ),
        "engine_room_temperature": ("engine room temperature", "engine room temp"),
        "exhaust_temperature": (
            "exhaust temperature", "exhaust gas temperature", "exhaust temp", "egt",
        ),
        "humidity": ("humidity", "relative humidity", "outside humidity"),
        "air_pressure": (
            "air pressure", "atmospheric pressure", "barometric pressure", "barometer",
        ),
        "apparent_wind_speed": ("apparent wind speed", "aws"),
        "apparent_wind_angle": ("apparent wind angle", "awa"),
        "true_wind_speed": ("true wind speed", "tws"),
        "true_wind_angle": ("true wind angle", "twa"),
        "wind_from": ("wind from", "wind direction", "true wind direction", "twd"),
        # Level under a weighting in frequency and one in time, as IEC 61672-1 writes them.
        "sound_level": ("sound level", "noise level", "sound pressure level", "laf", "las", "laeq"),
    }
)  # fmt: skip
"""Accepted names of every channel, folded."""

IMPLIED_UNITS: Mapping[str, str] = MappingProxyType(
    {
        "rpm": "rpm",
        "engine rpm": "rpm",
        "gear": "1",
        "gear position": "1",
        "shift": "1",
        "latitude": "deg N/E",
        "lat": "deg N/E",
        "longitude": "deg N/E",
        "lon": "deg N/E",
        "long": "deg N/E",
        "lng": "deg N/E",
        "laf": "dB(A)",
        "las": "dB(A)",
        "laeq": "dB(A)",
    }
)
"""Names that say their unit, or need none."""

TIME_NAMES: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(("time", "timestamp", "time stamp", "datetime", "date time"), "stamp"),
        **dict.fromkeys(("utc", "utc time", "time utc", "utc date time"), "stamp"),
        **dict.fromkeys(("local time", "time local", "time of day", "t"), "stamp"),
        **dict.fromkeys(("elapsed", "elapsed time", "time since start", "seconds"), "elapsed"),
        **dict.fromkeys(("epoch", "epoch time", "unix time", "unix timestamp"), "epoch"),
        **dict.fromkeys(("date", "utc date", "date utc", "local date"), "date"),
        **dict.fromkeys(("week", "gps week", "gps week number", "week number", "wn"), "week"),
        **dict.fromkeys(("tow", "gps tow", "time of week", "gps time of week"), "tow"),
        **dict.fromkeys(("itow", "seconds of week", "gps seconds", "second of week"), "tow"),
    }
)
"""Names of columns of time, and which sort each is."""

AMBIGUOUS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "temperature": ("engine_temperature", "water_temperature", "air_temperature"),
        "temp": ("engine_temperature", "water_temperature", "air_temperature"),
        "pressure": ("oil_pressure", "fuel_pressure", "air_pressure"),
        "wind speed": ("apparent_wind_speed", "true_wind_speed"),
        "wind angle": ("apparent_wind_angle", "true_wind_angle"),
        "wind": ("apparent_wind_speed", "true_wind_speed", "wind_from"),
        "hours": ("engine_hours",),
        "level": ("fuel_level",),
        "fuel": ("fuel_flow", "fuel_level", "trip_fuel"),
        "angle": ("pitch", "roll", "rudder"),
    }
)
"""Folded names that could be one of several channels, and so are none until the sheet says."""

TIME_UNITS: Mapping[str, str] = MappingProxyType({"seconds": "s", "itow": "ms"})
"""Names of columns of time that say their unit."""

EVENT_NAMES = frozenset(("event", "events", "mark", "marks", "marker", "tie mark", "button"))

SIDES: Mapping[str, int] = MappingProxyType(
    {"port": 0, "left": 0, "starboard": 1, "stbd": 1, "sb": 1, "right": 1}
)
ENGINE_SIDES: Mapping[str, int] = MappingProxyType({"p": 0, "s": 1})
"""Which engine a word means, and which letter behind the name of an engine's channel."""

BY_ENGINE = frozenset(
    (
        "engine_speed", "throttle", "fuel_flow", "fuel_supply", "fuel_return", "gear", "trim",
        "engine_load", "engine_torque", "engine_hours",
        "engine_temperature", "oil_temperature", "oil_pressure",
        "coolant_pressure", "fuel_pressure", "boost_pressure", "voltage", "gear_oil_pressure",
        "gear_oil_temperature", "trip_fuel", "exhaust_temperature",
    )
)  # fmt: skip

NAME_OF: Mapping[str, str] = MappingProxyType(
    {name: channel for channel, names in CHANNEL_NAMES.items() for name in names}
)
"""The channel that a folded name stands for."""

_WORDS = re.compile(r"[\s_\-./]+")


def fold(text: str) -> str:
    """A heading in lower case, its words parted by single blanks."""
    return " ".join(word for word in _WORDS.split(text.casefold().strip()) if word)
