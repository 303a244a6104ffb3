"""The picture's turning against a log's: the right offset, or no clue and the reason."""

from __future__ import annotations

import csv
import json
import math
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from picture_world import WIDE, Attitude, Lens, Shutter, World, at_sea

from demo_media import FootageRecipe, make_demo
from sync.channel import Channel
from sync.clock import Span
from sync.clue import Finding
from sync.clues.picture.fit import Fit
from sync.clues.picture.turning import Turning, turning_of
from sync.clues.picture.watching import watched
from sync.clues.picture_motion import _no_camera, picture_motion_clues
from sync.media import frame_times, probe
from sync.media.small import SmallFrame, small_frames

RATE = 25.0
START, LENGTH = 37.0, 20.0
OFFSET = -1234.5
LOG_S = 400.0
SHUTTER = Shutter(open_s=0.25 / RATE, readout_s=0.4 / RATE)


def stamps(length_s: float = LENGTH) -> np.ndarray:
    return np.arange(0, length_s, 1 / RATE)


def film(sea: Attitude, lens: Lens, seed: int = 4) -> Turning:
    return turning_of(World(seed).film(sea, lens, START + stamps(), stamps(), SHUTTER))


def log(
    sea: Attitude, *names: str, seed: int = 0, delay_s: float = 0.0, delay_sd_s: float = 0.0
) -> list[Channel]:
    """Channels of an attitude log, ten times a second, later than true by their delay."""
    rng = np.random.default_rng(seed)
    t = np.arange(0, float(sea.t_s[-1]), 0.1)
    rate = np.interp(t - delay_s, sea.t_s, np.gradient(sea.yaw, sea.t_s))
    made = {
        "turn_rate": rate + rng.normal(0, 0.003, t.size),
        "heading": np.mod(sea.at("yaw", t - delay_s), 2 * np.pi),
        "pitch": sea.at("pitch", t - delay_s) + rng.normal(0, 5e-4, t.size),
        "roll": sea.at("roll", t - delay_s) + rng.normal(0, 5e-4, t.size),
    }
    return [
        Channel(name=name, t_s=t + OFFSET, values=made[name], clock="log:attitude",
                delay_s=delay_s, delay_sd_s=delay_sd_s)
        for name in names or ("turn_rate", "pitch", "roll")
    ]  # fmt: skip


@pytest.fixture(scope="module")
def sea() -> Attitude:
    return at_sea(4, LOG_S)


@pytest.fixture(scope="module")
def ahead(sea: Attitude) -> Turning:
    return film(sea, Lens(spray=1.0))


def said(turning: Turning, channels: list[Channel], windows: tuple[Span, ...] = ()) -> Finding:
    return picture_motion_clues(
        clock="footage:bow", turning=turning, channels=channels, windows=windows
    )


def test_a_picture_that_is_shifted_and_turned_by_known_amounts_is_measured() -> None:
    """The picture is moved by its own definition, so that nothing here is the estimator's."""
    import cv2

    rng = np.random.default_rng(2)
    wide = cv2.GaussianBlur(rng.normal(128, 60, (180, 320)).astype(np.float32), (0, 0), 2.5)
    wide = 128 + (wide - 128) * 6
    steps = rng.normal(0, 1, (40, 3)) * np.array([1.2, 1.2, 0.01])
    where = np.cumsum(steps, axis=0)
    shown = []
    for i, (x, y, a) in enumerate(where):
        turn = cv2.getRotationMatrix2D((159.5, 89.5), -math.degrees(a), 1.0)
        turn[:, 2] += (x, y)
        moved = cv2.warpAffine(wide, turn, (320, 180), flags=cv2.INTER_CUBIC)
        part = np.clip(moved[45:135, 80:240], 0, 255).astype(np.uint8)
        shown.append(SmallFrame(t_s=2 * i / RATE, luma=part))
    found = turning_of(shown).steps[1:]
    # The sum of turns about a middle that itself moves differs by the product of the two.
    wanted = np.diff(where, axis=0) / np.array([WIDE, WIDE, 1.0])
    for k, least in enumerate((0.98, 0.98, 0.98)):
        assert np.corrcoef(found[:, k], wanted[:, k])[0, 1] > least
        assert np.polyfit(wanted[:, k], found[:, k], 1)[0] == pytest.approx(1.0, abs=0.08)


@pytest.mark.parametrize(("rate", "every"), [(24, 2), (25, 2), (30, 2), (50, 3), (60, 4)])
def test_as_many_frames_are_measured_as_a_boat_turns_for(rate: int, every: int) -> None:
    grey = np.random.default_rng(2).integers(0, 255, (90, 160)).astype(np.uint8)
    found = turning_of(SmallFrame(t_s=i / rate, luma=grey) for i in range(41))
    assert found.t_s.tolist() == pytest.approx([i / rate for i in range(0, 41, every)])
    assert found.frame_s == pytest.approx(1 / rate)


def test_a_cut_has_no_turning() -> None:
    rng = np.random.default_rng(2)
    one, other = rng.integers(0, 255, (2, 90, 160)).astype(np.uint8)
    shown = [SmallFrame(t_s=2 * i / RATE, luma=one if i < 5 else other) for i in range(10)]
    found = turning_of(shown).steps
    assert np.isnan(found[5]).all()
    assert np.isfinite(found[[1, 2, 3, 4, 6, 7, 8, 9]]).all()


def test_a_camera_over_the_bow_is_tied_within_half_a_frame(ahead: Turning, sea: Attitude) -> None:
    (clue,) = said(ahead, log(sea)).clues
    assert abs(clue.offset_s - (START + OFFSET)) < 0.5 / RATE
    assert 0.25 / RATE < clue.sd_s < 1.0 / RATE
    assert (clue.kind, clue.from_clock, clue.to_clock) == (
        "picture_motion", "footage:bow", "log:attitude",
    )  # fmt: skip
    assert clue.at_s is not None
    assert 0 < clue.at_s < LENGTH


@pytest.mark.parametrize("bearing", [math.pi, math.pi / 2, -math.pi / 2, 0.9])
def test_where_the_camera_looks_need_not_be_known(sea: Attitude, bearing: float) -> None:
    (clue,) = said(film(sea, Lens(bearing=bearing)), log(sea)).clues
    assert abs(clue.offset_s - (START + OFFSET)) < 1.0 / RATE


@pytest.mark.parametrize("names", [("pitch", "roll"), ("heading", "pitch", "roll")])
def test_fewer_channels_will_do(ahead: Turning, sea: Attitude, names: tuple[str, ...]) -> None:
    (clue,) = said(ahead, log(sea, *names)).clues
    assert abs(clue.offset_s - (START + OFFSET)) < 0.5 / RATE


def test_a_channels_delay_is_taken_out_and_its_doubt_is_named(
    ahead: Turning, sea: Attitude
) -> None:
    (clue,) = said(ahead, log(sea, delay_s=0.15, delay_sd_s=0.03)).clues
    assert abs(clue.offset_s - (START + OFFSET)) < 0.5 / RATE
    shutter, doubt = clue.doubts
    assert doubt.sd_s == 0.03
    assert doubt.name.startswith("delay of ")
    assert shutter.name == "the shutter of footage:bow"
    assert clue.sd_s > 0.03


def test_a_hole_in_the_log_is_not_bridged(ahead: Turning, sea: Attitude) -> None:
    cut = [
        Channel(name=c.name, clock=c.clock, t_s=c.t_s[keep], values=c.values[keep])
        for c in log(sea)
        for keep in [np.abs(c.t_s - (START + OFFSET + 8)) > 2]
    ]
    (clue,) = said(ahead, cut).clues
    assert abs(clue.offset_s - (START + OFFSET)) < 1.0 / RATE


@pytest.mark.parametrize("day", [101, 102, 103, 104])
def test_another_day_is_refused(ahead: Turning, day: int) -> None:
    found = said(ahead, log(at_sea(day, LOG_S)))
    assert found.clues == ()
    assert "not how the boat did" in found.remarks[0]


def test_a_window_that_lies_elsewhere_is_refused(ahead: Turning, sea: Attitude) -> None:
    away = Span(start_s=OFFSET + START + 60, stop_s=OFFSET + START + 160)
    assert said(ahead, log(sea), (away,)).clues == ()


def test_a_levelled_picture_says_nothing(sea: Attitude) -> None:
    still = Attitude(
        t_s=sea.t_s, yaw=0 * sea.yaw, pitch=0 * sea.pitch, roll=0 * sea.roll, speed=0 * sea.speed
    )
    found = said(film(still, Lens(deck=False)), log(sea))
    assert found.clues == ()
    assert "stabilised" in found.remarks[0]


def test_a_stabilised_picture_says_nothing(sea: Attitude) -> None:
    """What a stabiliser leaves: the way that she turns over two seconds, and a little shake."""
    rng = np.random.default_rng(8)
    wide = np.hanning(201) / np.sum(np.hanning(201))  # four seconds, 50 samples a second
    steady = {
        name: np.convolve(np.pad(getattr(sea, name), 100, mode="edge"), wide, mode="valid")
        + np.convolve(rng.normal(0, 4e-4, sea.t_s.size), np.full(5, 0.2), mode="same")
        for name in ("yaw", "pitch", "roll")
    }
    found = said(film(Attitude(t_s=sea.t_s, speed=sea.speed, **steady), Lens(deck=False)), log(sea))
    assert found.clues == ()
    assert "stabilised" in found.remarks[0]


def test_a_camera_in_another_boat_is_refused(sea: Attitude) -> None:
    assert said(film(at_sea(77, LOG_S), Lens(deck=False)), log(sea)).clues == ()


def test_a_sea_that_repeats_itself_fits_in_two_places(sea: Attitude) -> None:
    """The same two minutes of motion twice over in one log."""
    half = sea.t_s < 120
    parts = {n: np.tile(getattr(sea, n)[half], 2) for n in ("yaw", "pitch", "roll", "speed")}
    twice = Attitude(t_s=np.arange(2 * np.count_nonzero(half)) * 0.02, **parts)
    found = said(film(sea, Lens()), log(twice))
    assert found.clues == ()
    assert "nearly as well as each other" in found.remarks[0]


def test_a_log_that_tells_no_turning_is_named(ahead: Turning) -> None:
    t = np.arange(0, 100, 0.1)
    speed = Channel(name="speed", t_s=t, values=np.sin(t) + 2, clock="log:gps")
    found = said(ahead, [speed])
    assert found.clues == ()
    assert "no rate of turn, pitch or roll" in found.remarks[0]


def test_a_log_that_is_all_holes_is_refused(ahead: Turning, sea: Attitude) -> None:
    sparse = [
        Channel(name=c.name, clock=c.clock, t_s=c.t_s, values=np.where(held, c.values, np.nan))
        for c in log(sea)
        for held in [np.arange(c.t_s.size) % 50 < 4]
    ]
    found = said(ahead, sparse)
    assert found.clues == ()
    assert "holds too little" in found.remarks[0]


def test_a_log_that_misses_the_waves_is_not_used(ahead: Turning, sea: Attitude) -> None:
    slow = [
        Channel(name=c.name, clock=c.clock, t_s=c.t_s[::10], values=c.values[::10])
        for c in log(sea)
    ]
    assert "sampled every 0.6 s" in said(ahead, slow).remarks[0]


def test_a_few_seconds_of_picture_are_too_few(sea: Attitude, ahead: Turning) -> None:
    short = Turning(t_s=ahead.t_s[:80], steps=ahead.steps[:80], frame_s=ahead.frame_s)
    assert "are needed" in said(short, log(sea)).remarks[0]


def fit(down: tuple[float, float], about: tuple[float, float], across: float = -0.7) -> Fit:
    return Fit(
        shift_s=0.0, sd_s=0.01, gain=100.0, held=1.0, middle_s=0.0, told_by={"pitch": 1.0},
        r2={"across": 0.9, "down": 0.9, "about": 0.9},
        factors={
            "across": {"turn_rate": across},
            "down": {"pitch": down[0], "roll": down[1]},
            "about": {"pitch": about[0], "roll": about[1]},
        },
    )  # fmt: skip


def test_only_what_a_camera_can_see_is_believed() -> None:
    """Signs by hand: bow up sinks the horizon of a camera that looks ahead; starboard down
    lifts that of one that looks to starboard, and bow up then tilts it anticlockwise."""
    assert _no_camera(fit((0.7, 0.0), (0.0, -1.0))) is None
    assert _no_camera(fit((0.0, -0.7), (-1.0, 0.0))) is None
    assert _no_camera(fit((-0.7, 0.0), (0.0, 1.0))) is None
    assert _no_camera(fit((0.7, 0.0), (0.0, 1.0))) == "it would look two ways at once"
    assert "wrong way" in str(_no_camera(fit((0.7, 0.0), (0.0, -1.0), across=0.7)))
    assert "too far" in str(_no_camera(fit((9.0, 0.0), (0.0, -1.0))))


@pytest.mark.whole_road
def test_the_demos_own_film_is_tied_to_its_attitude_log(
    tmp_path: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    recipe = FootageRecipe(width_px=320, height_px=180, rate=25, length_s=24.0)
    demo = make_demo(tmp_path / "demo", cache=tmp_path / "cache", recipe=recipe, processes=2)
    assert demo.footage is not None
    footage = probe(demo.footage)
    seen = watched(small_frames(footage), frame_times(footage).span)
    assert len(seen.turning.t_s) == 300
    with (demo.folder / "logs/attitude.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    t = np.array([datetime.fromisoformat(row["time"]).timestamp() for row in rows])
    columns = {"pitch": "pitch (deg)", "roll": "roll (deg)", "turn_rate": "turn rate (deg/s)"}
    channels = [
        Channel(name=name, t_s=t, clock="utc", delay_s=0.02, delay_sd_s=0.01,
                values=np.radians([float(row[column]) for row in rows]))
        for name, column in columns.items()
    ]  # fmt: skip
    (clue,) = said(seen.turning, channels).clues
    truth = json.loads(demo.truth_path.read_text(encoding="utf-8"))["footage_offset_s"]
    assert abs(clue.offset_s - truth) < 1.5 / 25
    assert abs(clue.offset_s - truth) < 3 * clue.sd_s
