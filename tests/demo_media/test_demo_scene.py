"""The picture moves as the boat does."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from demo_media.scenario import DEMO_SCENARIO
from demo_media.scene.camera import HEIGHT_M, MOUNT_DOWN_DEG, Camera
from demo_media.scene.clapper import Clapper, make_clapper
from demo_media.scene.film import Stage, draw_frame, make_stage
from demo_media.scene.spray import Spray
from demo_media.scene.water import View, make_sea
from demo_media.simulate import Day

CAMERA = Camera(width_px=320, height_px=180)
STILL = np.zeros(2)


@pytest.fixture(scope="module")
def stage(day: Day) -> Stage:
    return make_stage(day, DEMO_SCENARIO.moments.clap_s, (320, 180), 7)


def _horizon(turn: np.ndarray, column: float) -> float:
    """Row of the horizon on the picture at a column of the canvas."""
    seen = turn @ np.array([CAMERA.canvas_width / 2 + column, CAMERA.above_px, 1.0])
    return float(seen[1] / seen[2])


@pytest.mark.parametrize("pitch_deg", [-2.0, 0.0, 3.4, 10.0])
def test_bow_up_sends_the_horizon_down_by_the_tangent(pitch_deg: float) -> None:
    turn = CAMERA.homography(math.radians(pitch_deg), 0.0, STILL)
    down = math.radians(MOUNT_DOWN_DEG - pitch_deg)
    expected = CAMERA.height_px / 2 - CAMERA.focal_px * math.tan(down)
    assert _horizon(turn, 0.0) == pytest.approx(expected, abs=1e-6)


def test_starboard_down_raises_the_horizon_on_the_right() -> None:
    turn = CAMERA.homography(math.radians(MOUNT_DOWN_DEG), math.radians(5.0), STILL)
    slope = (_horizon(turn, 50.0) - _horizon(turn, -50.0)) / 100
    assert slope == pytest.approx(
        -math.tan(math.radians(5.0)) * math.cos(math.radians(5)), rel=0.01
    )


def test_points_of_the_boat_lie_where_a_pinhole_puts_them() -> None:
    down = math.radians(MOUNT_DOWN_DEG)
    ahead = np.array([3.0])
    on_axis = CAMERA.of_boat(ahead, np.zeros(1), HEIGHT_M - ahead * math.tan(down))
    assert on_axis[0, :2] == pytest.approx([160, 90])
    assert on_axis[0, 2] == pytest.approx(3.0 / math.cos(down))


def test_water_streams_towards_the_viewer_at_the_boats_speed() -> None:
    """What was seen at a distance is seen nearer by the way made: the same rows of slopes."""
    sea = make_sea(CAMERA, 3)
    here = View(along_m=10.0, across_m=0.0, yaw_rad=0.0, height_m=2.0, speed_mps=0.0, t_s=0.0)
    there = View(along_m=13.0, across_m=0.0, yaw_rad=0.0, height_m=2.0, speed_mps=0.0, t_s=0.0)
    rows = CAMERA.below_px // 2 * 2
    middle = CAMERA.canvas_width // 2
    before, after = (sea._slopes(view, rows)[:, middle, 0] for view in (here, there))
    reach = 2.0 / sea.tan_down[:rows]
    far = (reach > 6) & (reach < 12)
    moved = np.interp(reach[far], reach[::-1] - 3.0, before[::-1])
    kept = np.interp(reach[far], reach[::-1], before[::-1])
    match = np.corrcoef(moved, after[far])[0, 1]
    assert match > 0.85
    assert match > np.corrcoef(kept, after[far])[0, 1] + 0.3


def test_a_frame_depends_on_its_time_alone(stage: Stage) -> None:
    once = draw_frame(stage, 77.0)
    draw_frame(stage, 62.0)
    assert np.array_equal(once, draw_frame(stage, 77.0))
    assert not np.array_equal(once, draw_frame(stage, 77.0 + 1 / 30))


def test_sky_is_above_the_sea_and_brighter(stage: Stage) -> None:
    picture = draw_frame(stage, 95.0)
    sky, sea = picture[5:25].mean(), picture[80:100, :40].mean()
    assert sky > sea + 40


def test_deck_stands_still_while_the_world_moves(stage: Stage) -> None:
    first, second = (draw_frame(stage, t).astype(int) for t in (80.0, 90.0))
    changed = np.abs(first - second).max(axis=2)
    assert changed[165:, 140:180].max() == 0
    assert changed[75:100].mean() > 3


def test_bars_meet_at_the_clap_and_not_before() -> None:
    clapper: Clapper = make_clapper(Camera(width_px=640, height_px=360), ("a", "b", "c"))
    heights = []
    for since in (-0.6, -0.1, -1 / 30, 0.0, 0.5):
        picture = np.full((360, 640, 3), (40, 200, 40), np.uint8)
        clapper.draw(picture, since)
        board = cv2.absdiff(picture, np.full_like(picture, (40, 200, 40))).max(axis=2) > 60
        heights.append(int(np.flatnonzero(board[:, 465:540].any(axis=1))[0]))
    assert heights[0] < heights[2] < heights[3]
    assert abs(heights[3] - heights[4]) <= 3


def test_clapper_comes_and_goes(stage: Stage) -> None:
    blank = np.zeros((180, 320, 3), np.uint8)
    for since, seen in ((-3.1, False), (-1.0, True), (0.0, True), (2.4, False)):
        picture = blank.copy()
        stage.clapper.draw(picture, since)
        assert bool(picture.any()) is seen


def test_spray_flies_only_when_the_boat_runs(day: Day) -> None:
    spray = Spray(camera=CAMERA, seed=5)
    still, fast = (np.zeros((180, 320, 3), np.uint8) for _ in range(2))
    spray.draw(still, day, 70.0)
    spray.draw(fast, day, 76.4)
    assert not still.any()
    assert fast.max() > 60
    assert not fast[:60].any()
