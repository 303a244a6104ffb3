"""Stops: from the throttle's closing to where the way is off."""

from __future__ import annotations

import math

import numpy as np
import pytest

from overlay.analysis.stopping import WAY_OFF_MPS, find_stops
from sync.clock import UTC
from sync.log import Channel

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
    assert stop.time_s == pytest.approx(TAU * math.log(V0 / WAY_OFF_MPS), abs=0.2)
    assert stop.distance_m == pytest.approx(TAU * (V0 - WAY_OFF_MPS), rel=0.02)
    assert stop.entry_mps == pytest.approx(V0, rel=0.01)
    assert stop.gear == "neutral"


def test_a_boat_slowed_down_in_gear_did_not_stop() -> None:
    assert find_stops(slowed(gear_after=1.0)) == ()


def test_astern_is_told_and_a_gear_that_is_not_logged_too() -> None:
    assert find_stops(slowed(gear_after=-1.0))[0].gear == "astern"
    assert find_stops(slowed(gear_after=None))[0].gear == "not logged"


def test_without_a_throttle_the_fall_of_speed_begins_it() -> None:
    (stop,) = find_stops(slowed(throttle=False))
    assert stop.span.start_s == pytest.approx(30.0, abs=0.5)
