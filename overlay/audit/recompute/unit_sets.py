"""The sets of units that a clip may be made in, and the speeds that each times a launch through."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

SHOWN_UNITS: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "us": {
            "speed": "mph",
            "volume_flow": "US gal/h",
            "volume": "US gal",
            "temperature": "°F",
            "mass": "lb",
            "power": "hp",
            "distance": "mi",
            "short_distance": "ft",
        },
        "nautical": {
            "speed": "kn",
            "volume_flow": "L/h",
            "volume": "L",
            "temperature": "°C",
            "mass": "kg",
            "power": "kW",
            "distance": "nmi",
            "short_distance": "m",
        },
        "metric": {
            "speed": "km/h",
            "volume_flow": "L/h",
            "volume": "L",
            "temperature": "°C",
            "mass": "kg",
            "power": "kW",
            "distance": "km",
            "short_distance": "m",
        },
    }
)
"""Units of the sets that a sheet chooses between; what is not in them has one unit for all."""

USUAL_LADDERS: Mapping[str, tuple[str, tuple[float, ...]]] = MappingProxyType(
    {
        "us": ("mph", (10, 20, 30, 40)),
        "nautical": ("kn", (10, 20, 30, 40)),
        "metric": ("km/h", (20, 40, 60, 80)),
    }
)
"""What a launch is timed through where the sheet does not say: round numbers of each set."""
