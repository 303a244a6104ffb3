"""Stops: from the throttle's closing to where the way is off."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from demo_media.noise import coloured
from overlay.analysis.stopping import WAY_OFF_MPS, find_stops
from sync.channel import Channel
from sync.clock import UTC

V0, TAU = 20.0, 6.0


def slowed(gear_after: float | None = 0.0, throttle: bool = True) -> dict[str, Channel]:
    """Full speed, then v = V0 exp(-t / τ) from 30 s on."""
    t = np.arange(0.0, 70.0, 0.1)
    after = np.clip(t - 30.0, 0.0, None)
    values = {"speed": V0 * np.exp(-after / TAU)}
    if throttle:
        values["throttle"] = np.where(t < 30, 1.0, np.clip(1 - after / 0.5, 0, 1))
    if gear_after is not None:
        values["gear"] = np.where(t < 30.4, 1.0, gear_after)
    return {k: Channel(name=k, clock=UTC, t_s=t, values=v) for k, v in values.items()}


def test_time_and_distance_of_a_way_that_dies_away_evenly() -> None:
    """t = τ ln(v0 / v1), s = τ (v0 − v1) (calculated)."""
    (stop,) = find_stops(slowed())
    assert stop.time_s.value == pytest.approx(TAU * math.log(V0 / WAY_OFF_MPS), abs=0.2)
    assert stop.distance_m.value == pytest.approx(TAU * (V0 - WAY_OFF_MPS), rel=0.02)
    assert stop.entry.value == pytest.approx(V0, rel=0.01)
    assert stop.gear == "neutral"


def test_a_boat_slowed_down_in_gear_did_not_stop() -> None:
    assert find_stops(slowed(gear_after=1.0)) == ()


def test_astern_is_told_and_a_gear_that_is_not_logged_too() -> None:
    assert find_stops(slowed(gear_after=-1.0))[0].gear == "astern"
    assert find_stops(slowed(gear_after=None))[0].gear == "not logged"


def test_without_a_throttle_the_fall_of_speed_begins_it() -> None:
    (stop,) = find_stops(slowed(throttle=False))
    assert stop.span.start_s == pytest.approx(30.0, abs=0.5)


def noisy(channels: dict[str, Channel], seed: int) -> dict[str, Channel]:
    speed = channels["speed"]
    noise = coloured(np.random.default_rng(seed), speed.t_s.size, sd=0.05, period_s=0.1, time_s=0.3)
    return {**channels, "speed": replace(speed, values=np.abs(speed.values + noise))}


@pytest.mark.parametrize("seed", range(6))
def test_noise_makes_neither_two_stops_of_one_nor_an_early_one(seed: int) -> None:
    """Where the way dies away at 0.17 m/s² noise alone crosses two knots again and again."""
    (stop,) = find_stops(noisy(slowed(), seed))
    true = TAU * math.log(V0 / WAY_OFF_MPS)
    assert abs(stop.time_s.value - true) < 3 * stop.time_s.sd
    assert 0.05 < stop.time_s.sd < 0.5
    assert abs(stop.distance_m.value - TAU * (V0 - WAY_OFF_MPS)) < 3 * stop.distance_m.sd


def test_a_delay_that_is_not_sure_counts_for_time_and_distance() -> None:
    channels = slowed()
    doubtful = {**channels, "speed": replace(channels["speed"], delay_sd_s=0.5)}
    (sure,), (stop,) = find_stops(channels), find_stops(doubtful)
    assert stop.time_s.sd == pytest.approx(math.hypot(sure.time_s.sd, 0.5), rel=1e-6)
    assert stop.distance_m.sd > 0.49 * V0


def test_a_boat_that_a_stream_carries_on_has_not_stopped() -> None:
    channels = slowed()
    speed = channels["speed"]
    carried = replace(speed, values=np.maximum(speed.values, WAY_OFF_MPS + 0.06))
    assert find_stops(noisy({**channels, "speed": carried}, 3)) == ()


def test_a_throttle_without_a_value_is_passed_over() -> None:
    channels = slowed()
    dead = replace(channels["throttle"], values=np.full(channels["throttle"].t_s.size, np.nan))
    (stop,) = find_stops({**channels, "throttle": dead})
    assert stop.event == "speed"
    assert abs(stop.entry.value - V0) < 2.5 * stop.entry.sd
    assert stop.entry.sd > 0.1
