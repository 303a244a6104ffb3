"""For how long the bow stands above an angle: on curves known on paper, and in the simulation."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_day import trial_of
from sailed import T0, logged, sailed

from overlay.analysis.attitude import SMOOTHED_S
from overlay.analysis.bow import bow_above, time_above
from overlay.analysis.results import compute_results
from sync.channel import Channel

LIMIT = math.radians(4.0)
SENSORS = {
    "logs": [{"name": "all", "file": "all.csv"}],
    "sensors": [{"log": "all", "channel": "pitch", "aided": True}],
}


def test_half_a_triangle_lies_above_half_its_height() -> None:
    assert time_above(np.array([0.0, 2.0, 4.0]), np.array([0.0, 2.0, 0.0]), 1.0) == 2.0


def test_a_sine_lies_above_half_its_height_for_a_third_of_its_period() -> None:
    """sin x > 1/2 from 30° to 150° (on paper)."""
    t = np.linspace(0.0, 10.0, 2001)
    above = time_above(t, np.sin(2 * math.pi * t / 10.0), 0.5)
    assert above == pytest.approx(10 / 3, abs=1e-3)


@given(
    st.lists(st.floats(-1, 1), min_size=2, max_size=40),
    st.floats(-1.2, 1.2),
)
def test_above_and_below_make_the_whole(values: list[float], limit: float) -> None:
    t = np.arange(float(len(values)))
    angle = np.array(values)
    above, below = time_above(t, angle, limit), time_above(t, -angle, -limit)
    level = np.sum((angle[1:] == limit) & (angle[:-1] == limit))
    assert above + below + level == pytest.approx(len(values) - 1)


def test_a_flat_bow_near_the_limit_is_not_sure() -> None:
    """A slow passage of the limit is known less well than a quick one."""
    t = np.linspace(0.0, 10.0, 201)
    quick = bow_above(t, np.where(t < 5, 0.1, 0.0), 0.05, 0.01)
    slow = bow_above(t, 0.1 - t / 100, 0.05, 0.01)
    assert quick.value == pytest.approx(5.0, abs=0.05)
    assert slow.value == pytest.approx(5.0, abs=1e-9)
    assert quick.sd == pytest.approx(0.05, abs=0.01)
    assert slow.sd == pytest.approx(math.hypot(1.0, 0.05), rel=1e-6)
    never = bow_above(t, np.zeros(t.size), 0.05, 0.01)
    assert (never.value, never.sd) == (0.0, 0.0)


def attitudes(channels: dict[str, Channel], sheet: dict[str, object]):
    return compute_results(trial_of(channels, sheet)).attitudes


@pytest.mark.parametrize("swell", [11, 12])
def test_each_launch_has_the_simulations_time(swell: int) -> None:
    day = sailed(swell)
    results = compute_results(
        trial_of(logged(day), {**SENSORS, "definitions": {"bow_limit": "4 deg"}})
    )
    assert results.attitudes
    for launch, one in zip(results.launches, results.attitudes, strict=True):
        t = np.arange(launch.start.t_s, launch.stop_s, 0.02) - T0
        rest = float(np.mean(day.at("pitch_rad", np.arange(t[0] - 10, t[0], 0.02))))
        width = round(SMOOTHED_S / 0.02)
        smooth = np.convolve(day.at("pitch_rad", t) - rest, np.full(width, 1 / width), mode="same")
        true = 0.02 * float(np.count_nonzero(smooth > LIMIT))
        assert true > 1.0
        assert one.limit_rad == pytest.approx(LIMIT)
        assert abs(one.above_s.value - true) < 2.5 * one.above_s.sd
        assert 0.05 < one.above_s.sd < 4.0
    assert any(title == "time with the bow above an angle" for title, *_ in results.definitions)


def test_a_higher_limit_is_passed_for_less_long() -> None:
    times = [
        [one.above_s.value for one in attitudes(logged(sailed()), {
            **SENSORS, "definitions": {"bow_limit": f"{limit} deg"}})]
        for limit in (2, 4, 6, 60)
    ]  # fmt: skip
    for lower, higher in pairwise(times):
        assert all(low >= high for low, high in zip(lower, higher, strict=True))
    assert times[-1] == [0.0] * len(times[-1])


def test_without_a_limit_nothing_is_counted_and_nothing_is_missing() -> None:
    results = compute_results(trial_of(logged(sailed()), SENSORS))
    assert not any(one.above_s.known for one in results.attitudes)
    assert not any("bow above" in line for line in results.missing)
    assert not any("bow above" in title for title, *_ in results.definitions)


def test_a_sensor_that_nobody_vouches_for_counts_nothing_and_says_why() -> None:
    results = compute_results(trial_of(logged(sailed()), {"definitions": {"bow_limit": "5 deg"}}))
    assert not any(one.above_s.known for one in results.attitudes)
    assert any("time with the bow above 5°" in x and "aided" in x for x in results.missing)


def test_a_hole_in_pitch_leaves_no_time() -> None:
    channels = logged(sailed())
    sheet = {**SENSORS, "definitions": {"bow_limit": "4 deg"}}
    start = compute_results(trial_of(channels, sheet)).launches[0].start.t_s
    pitch = channels["pitch"]
    keep = (pitch.t_s < start + 2) | (pitch.t_s > start + 4)
    channels["pitch"] = replace(pitch, t_s=pitch.t_s[keep], values=pitch.values[keep])
    first, second = attitudes(channels, sheet)
    assert not first.above_s.known
    assert any("bow above 4°: pitch has a hole" in line for line in first.missing)
    assert second.above_s.known
