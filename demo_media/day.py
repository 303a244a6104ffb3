"""The demo's simulated day, or its first minutes, worked out once and then kept."""

from __future__ import annotations

import contextlib
from dataclasses import fields
from functools import cache
from pathlib import Path

import numpy as np

from demo_media.boat import DEMO
from demo_media.cache import default_cache, key_of
from demo_media.files import beside
from demo_media.programme import Part, programme
from demo_media.simulate import Day, simulate
from demo_media.swell import make_swell

SWELL_SEED = 11

_NAMES = tuple(field.name for field in fields(Day))


@cache
def demo_day(part: Part = "morning") -> Day:
    """A part of the day on the demo's boat and water; the morning is how the day begins.

    The whole day takes some seconds to work out, so it is kept in the cache folder, where that
    can be written.
    """
    if part == "morning":
        return _simulated(part)
    path = default_cache() / f"day-{key_of(part)}.npy"
    kept = _kept(path)
    if kept is not None:
        return kept
    day = _simulated(part)
    with contextlib.suppress(OSError), beside(path) as place, place.open("wb") as file:
        np.save(file, np.stack([getattr(day, name) for name in _NAMES]))
    return day


def _simulated(part: Part) -> Day:
    wind_to_deg = DEMO.weather.wind_from_deg + 180.0
    swell = make_swell(SWELL_SEED, wind_to_deg, DEMO.hull.length_m)
    return simulate(programme(part).script, DEMO, swell)


def _kept(path: Path) -> Day | None:
    """The day that a file holds, or None where it holds none."""
    try:
        table = np.load(path)
    except (OSError, ValueError, EOFError):
        return None
    if table.ndim != 2 or table.shape[0] != len(_NAMES):
        return None
    return Day(**dict(zip(_NAMES, table, strict=True)))
