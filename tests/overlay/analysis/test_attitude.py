"""Bow rise and time to plane against the simulation, and what is not said."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from sailed import T0, logged, sailed

from overlay.analysis.attitude import AIDED_ERROR_RAD, LaunchAttitude, Planing, launch_attitude
from overlay.analysis.ladder import rungs
from overlay.analysis.launches import Launch, find_launches
from overlay.analysis.means import Mean
from overlay.analysis.propeller import planes
from overlay.analysis.steady import find_steady
from overlay.analysis.steps import find_steps
from sync.channel import Channel

LADDER = rungs("mph", [10, 20, 30, 40])
MASS_KG = 1180.0


def seen(
    channels: dict[str, Channel], error: float | None = AIDED_ERROR_RAD, **choice: object
) -> list[tuple[Launch, LaunchAttitude]]:
    steps = find_steps(channels, find_steady(channels), 1)
    lowest = min((s for s in steps if planes(s.speed.value, MASS_KG)), key=lambda s: s.speed.value)
    given = {
        "choice": "two_thirds", "trim": lowest.pitch, "trim_mps": lowest.speed.value,
        "mass_kg": MASS_KG, **choice,
    }  # fmt: skip
    planing = Planing(**given)
    launches = find_launches(channels, LADDER, "throttle_or_engine")
    return [(one, launch_attitude(channels, one, error, planing)) for one in launches]


@pytest.mark.parametrize("swell", [11, 12])
@pytest.mark.parametrize("tilt_deg", [-1.5, 0.7])
def test_bow_rise_is_the_simulations_whatever_the_mounting(swell: int, tilt_deg: float) -> None:
    day = sailed(swell)
    for launch, found in seen(logged(day, tilt_deg=tilt_deg)):
        t = np.arange(launch.start.t_s, launch.stop_s, 0.02) - T0
        rest = np.mean(day.at("pitch_rad", np.arange(t[0] - 10, t[0], 0.02)))
        true = float(np.max(day.at("pitch_rad", t))) - rest
        assert found.bow_rise.value == pytest.approx(true, abs=math.radians(0.5))
        assert math.radians(0.2) < found.bow_rise.sd < math.radians(1.0)


@pytest.mark.parametrize("swell", [11, 12, 13])
def test_time_to_plane_comes_after_the_hump_and_before_forty(swell: int) -> None:
    """The lowest planing step of that day is a fast one, so its trim is low and reached late."""
    for launch, found in seen(logged(sailed(swell))):
        assert found.peak_s < found.plane_s.value < launch.ladder[3].time_s
        assert 0.05 < found.plane_s.sd < 1.5


def test_launches_of_one_boat_plane_alike_within_what_they_state() -> None:
    found = [one.plane_s for swell in (11, 12, 13) for _, one in seen(logged(sailed(swell)))]
    apart = np.array([one.value for one in found]) - np.mean([one.value for one in found])
    assert np.all(np.abs(apart) < 3 * np.array([one.sd for one in found]))


@pytest.mark.parametrize(
    ("choice", "check"),
    [
        ({"choice": "speed", "speed_mps": 9.0}, 9.0),
        ({"choice": "froude_2"}, 2 * math.sqrt(9.80665 * (MASS_KG / 1025) ** (1 / 3))),
    ],
)
def test_a_speed_may_stand_for_the_plane(choice: dict[str, object], check: float) -> None:
    for _, found in seen(logged(sailed()), **choice):
        assert found.plane_mps == pytest.approx(check, abs=0.1)


def test_an_observers_button_may_too() -> None:
    launches = find_launches(logged(sailed()), LADDER, "throttle_or_engine")
    pressed = [launches[0].start.t_s + 4.2]
    first, second = seen(logged(sailed()), choice="button", buttons_s=pressed)
    assert first[1].plane_s.value == pytest.approx(4.2)
    assert "nobody pressed" in second[1].missing[-1]


def test_a_sensor_that_nobody_vouches_for_gives_no_bow_rise() -> None:
    """2 m/s² look like 11.5° to a sensor without a gyro (atan a/g, calculated)."""
    assert math.degrees(math.atan(2 / 9.80665)) == pytest.approx(11.5, abs=0.05)
    for _, found in seen(logged(sailed()), error=None):
        assert not found.bow_rise.known
        assert "aided" in found.missing[0]
        assert found.plane_s.known


def test_slow_pitch_misses_its_peak_and_says_so() -> None:
    channels = logged(sailed())
    pitch = channels["pitch"]
    channels["pitch"] = replace(pitch, t_s=pitch.t_s[::50], values=pitch.values[::50])
    for _, found in seen(channels):
        assert "every 1.0 s" in found.missing[0]
        assert not found.bow_rise.known


def test_a_hole_in_pitch_is_told() -> None:
    channels = logged(sailed())
    launch = find_launches(channels, LADDER, "throttle_or_engine")[0]
    pitch = channels["pitch"]
    outside = (pitch.t_s < launch.start.t_s + 2) | (pitch.t_s > launch.start.t_s + 4)
    channels["pitch"] = replace(pitch, t_s=pitch.t_s[outside], values=pitch.values[outside])
    assert "hole" in seen(channels)[0][1].missing[0]


def test_without_a_planing_step_the_running_trim_is_not_known() -> None:
    nothing = Mean(value=math.nan, sd=math.nan)
    for _, found in seen(logged(sailed()), trim=nothing):
        assert "running trim is not known" in found.missing[-1]
