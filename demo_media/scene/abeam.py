"""The view from the boat that keeps pace: where things of the other boat lie on the picture.

The picture is a level canvas, as over the bow, here along a line of sight that pans after the
other boat; what is near is put onto the same canvas as a pinhole sees it, and all of it goes
through the homography of the chase boat's own pitching and rolling.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from demo_media.boat import DEMO
from demo_media.chase import CAMERA_UP_M, pace
from demo_media.programme import BACK_DEG
from demo_media.scene.arrays import Floats
from demo_media.scene.camera import Camera
from demo_media.scene.water import View
from demo_media.simulate import Day

ASKEW_DEG = 82.0
"""The line of sight that sky and sea are laid out along, to starboard of the course."""

SIGHT_DEG = BACK_DEG + ASKEW_DEG
"""The same, from north."""

LEADS_M = 1.2
"""The camera looks so far ahead of the other boat's middle: there is where it goes."""


def chase_camera(size_px: tuple[int, int]) -> Camera:
    """The camera on the chase boat: a longer lens than the one at the helm."""
    return Camera(
        width_px=size_px[0],
        height_px=size_px[1],
        focal_per_width=1.32,
        mount_down_deg=2.6,
        height_m=CAMERA_UP_M,
        above_per_focal=0.26,
        below_per_focal=0.34,
    )


def over_water(day: Day, t_s: Floats) -> tuple[Floats, Floats]:
    """East and north of the boat on the water, which the current carries along."""
    to = math.radians(DEMO.weather.current_to_deg)
    drift = DEMO.weather.current_mps * t_s
    return day.at("x_m", t_s) - math.sin(to) * drift, day.at("y_m", t_s) - math.cos(to) * drift


@dataclass(frozen=True, slots=True, kw_only=True)
class Abeam:
    """One instant's view: the sea's `view`, the canvas's way onto the picture, and the camera's
    place on the water, east and north."""

    camera: Camera
    view: View
    turn: Floats
    place: tuple[float, float]

    def seen(self, east: Floats, north: Floats, up: Floats) -> Floats:
        """Points on the picture [shape=(n, 3)]: column, row, and how far ahead they are in m."""
        sight = math.radians(SIGHT_DEG) + self.view.yaw_rad
        x, y = np.asarray(east) - self.place[0], np.asarray(north) - self.place[1]
        ahead = np.maximum(x * math.sin(sight) + y * math.cos(sight), 0.5)
        right = x * math.cos(sight) - y * math.sin(sight)
        camera = self.camera
        canvas = np.stack(
            [
                camera.canvas_width / 2 + camera.focal_px * right / ahead,
                camera.above_px + camera.focal_px * (self.view.height_m - up) / ahead,
                np.ones_like(ahead),
            ]
        )
        flat = self.turn @ canvas
        return np.stack([flat[0] / flat[2], flat[1] / flat[2], ahead], axis=1)


def abeam(day: Day, camera: Camera, t_s: float) -> Abeam:
    """The view at a time of the day."""
    yaw_px = round(camera.focal_px * math.tan(_pan(day, t_s)))
    course, sight = math.radians(BACK_DEG), math.radians(SIGHT_DEG)
    at = np.array([t_s])
    boat = tuple(float(value[0]) for value in over_water(day, at))
    keeps = pace(day, at)
    along, port = float(keeps.along_m[0]), float(keeps.port_m[0])
    x = boat[0] + along * math.sin(course) - port * math.cos(course)
    y = boat[1] + along * math.cos(course) + port * math.sin(course)
    speed = abs(float(day.at("water_mps", t_s)[0]))
    view = View(
        along_m=x * math.sin(sight) + y * math.cos(sight),
        across_m=x * math.cos(sight) - y * math.sin(sight),
        yaw_rad=math.atan(yaw_px / camera.focal_px),
        height_m=CAMERA_UP_M + 0.07 * math.sin(t_s * 1.9) + 0.04 * math.sin(t_s * 3.1 + 1),
        speed_mps=0.25 * speed,
        t_s=t_s,
    )
    pitch, roll = _sway(t_s, speed)
    turn = camera.homography(pitch, roll, _shake(t_s, speed, camera))
    return Abeam(camera=camera, view=view, turn=turn, place=(x, y))


def _pan(day: Day, t_s: float) -> float:
    """Angle of the sight to the right of what sky and sea are laid out along.

    The hand that holds the camera follows with the mean of two seconds, and not quite.
    """
    near = t_s + np.linspace(-1.0, 1.0, 21)
    keeps = pace(day, near)
    bearing = np.arctan2(keeps.port_m, LEADS_M - keeps.along_m) - math.radians(ASKEW_DEG)
    stray = 0.012 * math.sin(t_s * 0.9) + 0.006 * math.sin(t_s * 2.3 + 0.5)
    return float(bearing.mean()) + stray


def _sway(t_s: float, speed: float) -> tuple[float, float]:
    """How the chase boat tilts the camera: up, and to the right, in radians."""
    lively = 0.6 + min(speed / 20, 1.0)
    pitch = 0.006 * math.sin(t_s * 1.7 + 0.3) + 0.003 * math.sin(t_s * 4.1)
    roll = 0.009 * math.sin(t_s * 1.3) + 0.004 * math.sin(t_s * 2.9 + 2)
    return lively * pitch, lively * roll


def _shake(t_s: float, speed: float, camera: Camera) -> Floats:
    """What engine and water do to the hand that holds it, in pixels."""
    knocks = 0.3 + 1.3 * min(speed / 20, 1.0) ** 1.5
    x = 0.5 * math.sin(t_s * 27.1) + 0.3 * math.sin(t_s * 61.7 + 1)
    y = math.sin(t_s * 21.3 + 0.4) + 0.6 * math.sin(t_s * 34.9)
    return np.asarray(np.array([x, y]) * knocks * camera.width_px / 1280)
