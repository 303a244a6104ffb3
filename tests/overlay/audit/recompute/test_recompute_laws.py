"""The laws a second time: known truth on paper, and the product's on a noisy day."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from sailed import T0, logged, only, sailed, within

from overlay.analysis.signals import signal_of
from overlay.audit.recompute.grid import either_instants, instants_between, shown_instants
from overlay.audit.recompute.laws import Curve, curve_of
from overlay.audit.recompute.recorded import Recorded, recorded
from sync.channel import Channel


def channel(key: str, t: np.ndarray, values: np.ndarray, means: str = "measured") -> Recorded:
    made = recorded(
        key=key,
        log="log",
        path=Path("log"),
        t_s=np.asarray(t, np.float64),
        values=np.asarray(values, np.float64),
        lines=np.arange(1, len(t) + 1),
        printed=np.asarray(values, np.float64),
        worth_si=1.0,
        means=means,
    )
    assert made is not None
    return made


def again(theirs: Channel) -> Recorded:
    made = channel(theirs.key, theirs.t_s, theirs.values, theirs.means)
    return replace(made, late_sd_s=theirs.delay_sd_s)


TEN = np.arange(0.0, 20.0, 0.1)
FIFTY = np.arange(0.0, 20.0, 0.02)


def test_a_parabola_is_found_exactly() -> None:
    curve = curve_of(channel("speed", TEN, 3 + 2 * TEN + 0.1 * TEN**2), {})
    assert curve.name == "parabola"
    assert curve.at(7.03).value == pytest.approx(3 + 2 * 7.03 + 0.1 * 7.03**2, abs=1e-11)
    assert curve.at(7.03).slope == pytest.approx(2 + 0.2 * 7.03, abs=1e-11)


def test_a_line_is_found_exactly_and_its_window_is_two_tenths() -> None:
    """A single sample out by 0.5 counts while it is within 0.2 s: a fifth of it at the middle."""
    values = 1 + 0.5 * TEN
    values[100] += 0.5
    curve = curve_of(channel("throttle", TEN, values / 20), {})
    assert curve.name == "line"
    assert curve.at(5.05).value == pytest.approx((1 + 0.5 * 5.05) / 20)
    assert curve.at(TEN[100]).value == pytest.approx((1 + 0.5 * TEN[100] + 0.1) / 20)
    assert curve.at(TEN[100] + 0.25).value == pytest.approx((1 + 0.5 * (TEN[100] + 0.25)) / 20)


def test_the_short_way_round_across_north() -> None:
    t = np.arange(0.0, 5.0, 1.0)
    curve = curve_of(channel("course", t, np.radians([350, 358, 6, 14, 22])), {})
    assert curve.name == "neighbours"
    assert math.degrees(curve.at(1.5).value) == pytest.approx(2.0)
    assert math.degrees(curve.at(1.25).value) == pytest.approx(0.0, abs=1e-9) or math.degrees(
        curve.at(1.25).value
    ) == pytest.approx(360.0)


@pytest.mark.parametrize(("gap", "there"), [(0.5, True), (0.6, False)])
def test_a_gap_of_more_than_half_a_second_is_a_hole(gap: float, there: bool) -> None:
    keep = (TEN <= 8.0) | (8.0 + gap - 1e-9 <= TEN)
    curve = curve_of(channel("throttle", TEN[keep], TEN[keep] / 20), {})
    assert math.isfinite(Curve(curve.channel, "neighbours").at(8.2).value) is there


def test_slow_channels_have_longer_gaps() -> None:
    t = np.arange(0.0, 40.0, 1.0)
    keep = (t < 10) | (t >= 12)
    curve = curve_of(channel("throttle", t[keep], t[keep] / 40), {})
    assert curve.at(11.0).value == pytest.approx(11 / 40)
    keep = (t < 10) | (t >= 13)
    curve = curve_of(channel("throttle", t[keep], t[keep] / 40), {})
    assert math.isnan(curve.at(11.0).value)


def test_before_and_behind_there_is_nothing() -> None:
    curve = curve_of(channel("throttle", TEN, TEN / 20), {})
    assert math.isnan(curve.at(-0.1).value)
    assert math.isnan(curve.at(20.1).value)


def test_an_aided_speed_follows_a_step_that_a_parabola_smears() -> None:
    """From 2 to 5 m/s² at 10 s, the accelerometer off by 0.3: the line takes that up."""
    push = np.where(FIFTY < 10, 2.0, 5.0)
    truth = np.where(TEN < 10, 2 * TEN, 20 + 5 * (TEN - 10))
    speed, ahead = channel("speed", TEN, truth), channel("acceleration", FIFTY, push + 0.3)
    curve = curve_of(speed, {"speed": speed, "acceleration": ahead})
    assert curve.name == "aided"
    assert curve.at(10.0).value == pytest.approx(20.0, abs=0.02)
    assert abs(curve.alone.at(10.0).value - 20.0) > 0.1


def test_an_acceleration_of_another_motion_aids_nothing() -> None:
    speed = channel("speed", TEN, 2 * TEN)
    ahead = channel("acceleration", FIFTY, 2 + 6 * np.sin(FIFTY * 3))
    curve = curve_of(speed, {"speed": speed, "acceleration": ahead})
    assert not curve.is_aided(10.0)
    assert curve.at(10.0).value == pytest.approx(20.0)


def test_the_grid_on_paper() -> None:
    t = np.array([10.0, 10.24, 10.25, 10.49, -0.1])
    assert shown_instants(t, 4).tolist() == [10.0, 10.0, 10.25, 10.25, -0.25]
    # A mark takes the place of the instant before it and of the next, once it is passed.
    marks = (10.1,)
    assert shown_instants(np.array([10.09, 10.1, 10.26, 10.34, 10.5]), 4, marks).tolist() == [
        10.0, 10.1, 10.1, 10.1, 10.5,
    ]  # fmt: skip
    assert instants_between(10.0, 10.6, 4, marks).tolist() == [10.0, 10.1, 10.5]


def test_on_an_edge_either_instant_is_right() -> None:
    rows = either_instants(np.array([10.25 - 2e-6, 10.30]), 4)
    assert {*rows[0].tolist()} == {10.0, 10.25}
    assert {*rows[1].tolist()} == {10.25}


@pytest.fixture(scope="module")
def day() -> dict[str, Channel]:
    made = logged(sailed())
    made["pitch"] = only(made["pitch"], ~within(made["pitch"], 100, 101.2))
    made["speed"] = only(made["speed"], ~within(made["speed"], 200, 200.9))
    made["acceleration"] = only(made["acceleration"], ~within(made["acceleration"], 150, 150.7))
    return made


@pytest.mark.parametrize(
    "key",
    ["speed", "course", "engine_speed", "throttle", "fuel_flow", "pitch", "roll", "turn_rate",
     "acceleration", "latitude"],
)  # fmt: skip
def test_every_channel_of_a_sailed_day_is_as_the_product_has_it(key: str, day) -> None:
    """On the grid and beside it, through steps, launches and holes."""
    signal = signal_of(day[key], day, marks_s=(T0 + 95.13,) if key == "speed" else ())
    ours = {name: again(one) for name, one in day.items()}
    curve = curve_of(ours[key], ours)
    assert curve.name == signal.law.name
    t = T0 + np.arange(90.0, 260.0, 0.37)
    shown = shown_instants(t, round(signal.grid_hz), signal.marks_s)
    samples = [signal.sample(one) for one in t.tolist()]
    assert shown.tolist() == [sample.t_s for sample in samples]
    values = curve.values(shown)
    theirs = np.array([sample.value for sample in samples])
    assert np.array_equal(np.isnan(values), np.isnan(theirs))
    assert np.isfinite(theirs).sum() > 400
    assert np.nanmax(np.abs(values - theirs)) < 1e-11 * max(1.0, float(np.nanmax(np.abs(theirs))))
    assert np.isnan(theirs).any() == (key in ("pitch", "speed", "acceleration"))
