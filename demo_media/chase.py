"""The boat that keeps pace: where its camera is, and how it looks and sways.

It runs off the other boat's port side, does what that does a little later, and so falls back
from abeam to the quarter as the other gathers way.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from demo_media.noise import Floats
from demo_media.programme import BACK_DEG
from demo_media.simulate import Day

LATE_S = 0.62
"""How much later it does everything."""

AHEAD_M, PORT_M = 3.0, 20.0
"""Where it would be if it were not late: along the course and off to port."""

CAMERA_UP_M = 2.5
"""Height of its camera above the water."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """Where the chase boat's camera is at some instants [shape of each: (n,)].

    `along_m` and `port_m` are the camera's place from the other boat's helm, along the course
    and to port of it; `x_m` and `y_m` its place over ground.
    """

    along_m: Floats
    port_m: Floats
    x_m: Floats
    y_m: Floats


def pace(day: Day, t_s: Floats) -> Pace:
    """Where the camera is at times of the day."""
    course = math.radians(BACK_DEG)
    ahead = (math.sin(course), math.cos(course))
    port = (-math.cos(course), math.sin(course))
    now = np.stack([day.at("x_m", t_s), day.at("y_m", t_s)])
    late = np.stack([day.at("x_m", t_s - LATE_S), day.at("y_m", t_s - LATE_S)])
    behind = (now - late)[0] * ahead[0] + (now - late)[1] * ahead[1]
    along = AHEAD_M - behind + 0.5 * np.sin(0.41 * t_s + 0.6)
    off = PORT_M + 1.4 * np.sin(0.23 * t_s) + 0.05 * behind
    return Pace(
        along_m=np.asarray(along),
        port_m=np.asarray(off),
        x_m=np.asarray(now[0] + along * ahead[0] + off * port[0]),
        y_m=np.asarray(now[1] + along * ahead[1] + off * port[1]),
    )
