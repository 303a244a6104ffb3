"""Where the boat went, in metres east and north, from her logged places or from her velocity."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span

STEP_S = 0.1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """Places over time [shape of each: (n,)], from the first of them, in m east and north."""

    t_s: Floats
    x_m: Floats
    y_m: Floats


def track(channels: Mapping[str, Channel], span: Span) -> Track | None:
    """The boat's way in a stretch; None where a hole is in it.

    Speed and course by Doppler are summed up where both are logged: over a minute they are ten
    times as smooth as places. Else places are taken, on the WGS 84 ellipsoid.
    """
    speed, course = channels.get("speed"), channels.get("course")
    t = np.arange(span.start_s, span.stop_s, STEP_S)
    if speed is not None and course is not None and speed.means != "differenced":
        pace, way = speed.at(t), course.at(t)
        if t.size and np.all(np.isfinite(pace) & np.isfinite(way)):
            return Track(t_s=t, x_m=_summed(pace * np.sin(way)), y_m=_summed(pace * np.cos(way)))
    return _places(channels, span)


def _summed(rate: Floats) -> Floats:
    steps = (rate[1:] + rate[:-1]) / 2 * STEP_S
    return np.concatenate([[0.0], np.cumsum(steps)])


def _places(channels: Mapping[str, Channel], span: Span) -> Track | None:
    latitude, longitude = channels.get("latitude"), channels.get("longitude")
    if latitude is None or longitude is None:
        return None
    here = latitude.cut(span)
    north, east = here.values, longitude.at(here.t_s)
    good = np.isfinite(north) & np.isfinite(east)
    if np.count_nonzero(good) < 2 or latitude.broken_in(span):
        return None
    from pyproj import Geod

    t, north, east = here.t_s[good], north[good], east[good]
    first = np.full(t.size, north[0]), np.full(t.size, east[0])
    bearing, _, far = Geod(ellps="WGS84").inv(first[1], first[0], east, north)
    angle = np.radians(np.asarray(bearing, dtype=np.float64))
    return Track(t_s=t, x_m=far * np.sin(angle), y_m=far * np.cos(angle))
