"""One frame of the film from a time of the day: everything in the order in which it hides."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from demo_media.scene.abeam import over_water
from demo_media.scene.arrays import Pixels, pixels
from demo_media.scene.camera import HEIGHT_M, Camera
from demo_media.scene.clapper import Clapper, make_clapper
from demo_media.scene.deck import Deck, make_deck
from demo_media.scene.sky import Sky, make_sky
from demo_media.scene.spray import Spray
from demo_media.scene.water import Sea, View, make_sea
from demo_media.simulate import Day

if TYPE_CHECKING:
    from numpy.typing import NDArray

COURSE_DEG = 62.0
"""Course of the launch: the sky and the waves are laid out along it."""

BOARD = ("OTTERVIK 600", "Launch from rest", "11 June   no. 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """All that stays the same from frame to frame."""

    camera: Camera
    day: Day
    clap_s: float | None
    sky: Sky
    sea: Sea
    spray: Spray
    deck: Deck
    clapper: Clapper

    def draw(self, t_s: float) -> Pixels:
        """The picture at a time of the day."""
        return draw_frame(self, t_s)


def make_stage(day: Day, clap_s: float | None, size_px: tuple[int, int], seed: int) -> Stage:
    """Build the stage for a size of picture: a few seconds of work."""
    camera = Camera(width_px=size_px[0], height_px=size_px[1])
    return Stage(
        camera=camera,
        day=day,
        clap_s=clap_s,
        sky=make_sky(camera, seed),
        sea=make_sea(camera, seed),
        spray=Spray(camera=camera, seed=seed),
        deck=make_deck(camera, seed),
        clapper=make_clapper(camera, BOARD),
    )


def draw_frame(stage: Stage, t_s: float) -> Pixels:
    """The picture at a time of the day [shape=(height, width, 3), BGR].

    It depends on the stage and the time alone, so that frames may be drawn in any order.
    """
    camera, day = stage.camera, stage.day
    view = _view(day, t_s)
    pitch, roll = (float(day.at(name, t_s)[0]) for name in ("pitch_rad", "roll_rad"))
    yaw_px = camera.focal_px * math.tan(view.yaw_rad)
    rest_px = np.array([yaw_px - round(yaw_px), 0.0])
    turn = camera.homography(pitch, roll, _shake(day, t_s, camera) - rest_px)
    rows = _rows_needed(turn, camera)
    canvas = np.empty((camera.above_px + rows, camera.canvas_width, 3), np.uint8)
    view = replace(view, yaw_rad=math.atan(round(yaw_px) / camera.focal_px))
    stage.sky.draw(canvas, camera, round(yaw_px), camera.width_px * 0.0006 * t_s)
    stage.sea.draw(canvas, view, rows)
    seen = cv2.warpPerspective(
        canvas,
        turn,
        (camera.width_px, camera.height_px),
        flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    picture = pixels(seen)
    stage.spray.draw(picture, day, t_s)
    stage.deck.draw(picture)
    if stage.clap_s is not None:
        stage.clapper.draw(picture, t_s - stage.clap_s)
    return picture


def _view(day: Day, t_s: float) -> View:
    course = math.radians(COURSE_DEG)
    x, y = (float(place[0]) for place in over_water(day, np.array([t_s])))
    return View(
        along_m=x * math.sin(course) + y * math.cos(course),
        across_m=x * math.cos(course) - y * math.sin(course),
        yaw_rad=float(day.at("heading_rad", t_s)[0]) - course,
        height_m=HEIGHT_M + float(day.at("heave_m", t_s)[0]),
        speed_mps=float(day.at("water_mps", t_s)[0]),
        t_s=t_s,
    )


def _shake(day: Day, t_s: float, camera: Camera) -> NDArray[np.float64]:
    """What the engine and the water do to the camera, in pixels."""
    rpm_share = float(day.at("engine_rps", t_s)[0]) / 92
    speed_share = float(day.at("water_mps", t_s)[0]) / 22
    hum = 0.22 + 0.30 * rpm_share
    knocks = 1.5 * speed_share**1.5
    x = hum * math.sin(t_s * 71.3) + 0.4 * knocks * math.sin(t_s * 23.7 + 1.1)
    y = hum * math.sin(t_s * 88.1 + 0.7)
    y += knocks * (math.sin(t_s * 19.3) + 0.7 * math.sin(t_s * 31.9 + 2.0)) * 0.6
    return np.array([x, y]) * camera.width_px / 1280


def _rows_needed(turn: NDArray[np.float64], camera: Camera) -> int:
    """Rows below the horizon of the canvas that the picture shows, to an even number."""
    back = np.linalg.inv(turn)
    corners = np.array([[0.0, camera.width_px], [camera.height_px, camera.height_px], [1.0, 1.0]])
    seen = back @ corners
    lowest = float((seen[1] / seen[2]).max()) - camera.above_px
    rows = math.ceil(lowest) + 3
    return min(max(rows + rows % 2, 16), camera.below_px // 2 * 2)
