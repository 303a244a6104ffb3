"""One frame of the film from the boat that keeps pace: the other boat, across the water."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from demo_media.chase import pace
from demo_media.scene.abeam import SIGHT_DEG, Abeam, abeam, chase_camera, over_water
from demo_media.scene.arrays import Pixels, pixels
from demo_media.scene.camera import Camera
from demo_media.scene.side_view import COURSE_OF_SUN_DEG, Pose, draw_boat
from demo_media.scene.sky import Sky, make_sky
from demo_media.scene.wake import Wake
from demo_media.scene.water import EXPOSURE_S, Sea, make_sea
from demo_media.simulate import Day

SKY_MARGIN = 0.8
"""How far the sky goes on beyond the canvas, in focal lengths: the camera pans."""

STREAKS = 8
"""Bands of rows in each of which the water is drawn out sideways by one length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChaseStage:
    """All that stays the same from frame to frame."""

    camera: Camera
    day: Day
    sky: Sky
    sea: Sea
    wake: Wake

    def draw(self, t_s: float) -> Pixels:
        """The picture at a time of the day [shape=(height, width, 3), BGR].

        It depends on the stage and the time alone, so that frames may be drawn in any order.
        """
        camera = self.camera
        view = abeam(self.day, camera, t_s)
        yaw_px = round(camera.focal_px * np.tan(view.view.yaw_rad))
        canvas = np.empty((camera.above_px + camera.below_px, camera.canvas_width, 3), np.uint8)
        self.sky.draw(canvas, camera, yaw_px, camera.width_px * 0.0006 * (t_s % 1000))
        self.sea.draw(canvas, view.view, camera.below_px)
        self._streak(canvas, t_s, view)
        seen = cv2.warpPerspective(
            canvas,
            view.turn,
            (camera.width_px, camera.height_px),
            flags=cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        picture = pixels(seen)
        self.wake.draw_foam(picture, view, t_s)
        self.wake.draw_spray(picture, view, t_s, -1.0)
        draw_boat(picture, view, self._pose(t_s))
        self.wake.draw_spray(picture, view, t_s, 1.0)
        return picture

    def _pose(self, t_s: float) -> Pose:
        day = self.day
        east, north = (float(place[0]) for place in over_water(day, np.array([t_s])))
        heading, pitch, roll, heave = (
            float(day.at(name, t_s)[0])
            for name in ("heading_rad", "pitch_rad", "roll_rad", "heave_m")
        )
        return Pose(east=east, north=north, heading=heading, pitch=pitch, roll=roll, heave=heave)

    def _streak(self, canvas: Pixels, t_s: float, view: Abeam) -> None:
        """Draw the water out sideways by the way that the camera makes during the exposure."""
        camera = self.camera
        near = pace(self.day, np.array([t_s - 0.05, t_s + 0.05]))
        way_m = float(np.hypot(np.diff(near.x_m), np.diff(near.y_m))[0]) * 10 * EXPOSURE_S
        edges = camera.above_px + camera.below_px * np.linspace(0.06, 1, STREAKS + 1) ** 1.3
        for top, bottom in zip(edges[:-1].astype(int), edges[1:].astype(int), strict=True):
            middle = ((top + bottom) / 2 - camera.above_px) / camera.focal_px
            length = round(way_m * camera.focal_px * middle / view.view.height_m)
            if length > 1:
                canvas[top:bottom] = cv2.blur(np.ascontiguousarray(canvas[top:bottom]), (length, 1))


def make_chase_stage(day: Day, size_px: tuple[int, int], seed: int) -> ChaseStage:
    """Build the stage for a size of picture: a few seconds of work."""
    camera = chase_camera(size_px)
    sun_deg = (COURSE_OF_SUN_DEG - SIGHT_DEG + 180.0) % 360.0 - 180.0
    return ChaseStage(
        camera=camera,
        day=day,
        sky=make_sky(camera, seed + 1, sun_deg, SKY_MARGIN),
        sea=make_sea(camera, seed + 1, sun_deg),
        wake=Wake(day=day, seed=seed + 2),
    )
