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
        "gear": ("gear", "gear position", "shift"),
        "pitch": ("pitch", "pitch angle"),
        "roll": ("roll", "roll angle", "heel", "heel angle"),
        "turn_rate": ("turn rate", "rate of turn", "rot", "yaw rate"),
        "acceleration": (
            "acceleration", "accel", "acc", "accel x", "acc x", "ax", "acceleration x",
            "forward acceleration", "longitudinal acceleration",
        ),
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
    }
)
"""Names of columns of time, and which sort each is."""

EVENT_NAMES = frozenset(("event", "events", "mark", "marks", "marker", "tie mark", "button"))

SIDES: Mapping[str, int] = MappingProxyType(
    {"port": 0, "left": 0, "starboard": 1, "stbd": 1, "sb": 1, "right": 1}
)
ENGINE_SIDES: Mapping[str, int] = MappingProxyType({"p": 0, "s": 1})
"""Which engine a word means, and which letter behind the name of an engine's channel."""

BY_ENGINE = frozenset(("engine_speed", "throttle", "fuel_flow", "gear"))

NAME_OF: Mapping[str, str] = MappingProxyType(
    {name: channel for channel, names in CHANNEL_NAMES.items() for name in names}
)
"""The channel that a folded name stands for."""

_WORDS = re.compile(r"[\s_\-./]+")


def fold(text: str) -> str:
    """A heading in lower case, its words parted by single blanks."""
    return " ".join(word for word in _WORDS.split(text.casefold().strip()) if word)
