"""The demo's one simulated day, worked out once a process."""

from __future__ import annotations

from functools import cache

from demo_media.boat import DEMO
from demo_media.script import launch_morning
from demo_media.simulate import Day, simulate
from demo_media.swell import make_swell

SWELL_SEED = 11


@cache
def demo_day() -> Day:
    """The launch morning on the demo's boat and water."""
    wind_to_deg = DEMO.weather.wind_from_deg + 180.0
    return simulate(launch_morning(), DEMO, make_swell(SWELL_SEED, wind_to_deg, DEMO.hull.length_m))
