"""How the engine's sound gets to a microphone: when it left, and how far it went.

Air carries it at its own pace while both boats move; what arrives at a time left earlier by
the way that it went, from where the engine was then::

    t_left = t_heard - |microphone(t_heard) - engine(t_left)| / c

so that a boat which draws away sounds lower, as it should.
"""

from __future__ import annotations

import numpy as np

from demo_media.chase import CAMERA_UP_M, pace
from demo_media.noise import Floats
from demo_media.scenario import Scenario
from demo_media.shots import Shot
from demo_media.simulate import Day

ENGINE_AFT_M, ENGINE_UP_M = 3.0, 0.6
"""The engine behind the helm, and above the water."""

ROUNDS = 4
"""How often the equation is put into itself; each round is closer by the boat's speed over
the sound's, a fifteenth."""


def left_s(day: Day, scenario: Scenario, shot: Shot, heard_s: Floats) -> Floats:
    """When the engine gave the sound that a recording's microphone hears, in times of the day.

    Parameters
    ----------
    heard_s : [shape=(n,), s]
        Times of the day at which it is heard.
    """
    if shot.view == "bow":
        return np.asarray(heard_s - shot.engine_distance_m / scenario.sound_speed_mps)
    camera = pace(day, heard_s)
    left = heard_s
    for _ in range(ROUNDS):
        left = heard_s - _way_m(day, camera.x_m, camera.y_m, left) / scenario.sound_speed_mps
    return np.asarray(left)


def _way_m(day: Day, x_m: Floats, y_m: Floats, left_s: Floats) -> Floats:
    """From the engine, where it was, to a microphone, where it is."""
    heading = day.at("heading_rad", left_s)
    east = x_m - (day.at("x_m", left_s) - ENGINE_AFT_M * np.sin(heading))
    north = y_m - (day.at("y_m", left_s) - ENGINE_AFT_M * np.cos(heading))
    return np.asarray(np.sqrt(east**2 + north**2 + (CAMERA_UP_M - ENGINE_UP_M) ** 2))


def engine_way_m(day: Day, scenario: Scenario, shot: Shot) -> Floats:
    """The way of the engine's sound through a recording, at a hundred instants [m]."""
    heard = shot.start_s + np.linspace(0.0, shot.recipe.length_s, 100)
    return (heard - left_s(day, scenario, shot, heard)) * scenario.sound_speed_mps
