"""What a day's idling and running trim come to, on a simulated day."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sailed import T0, Done, logged, sailed, script

from overlay.analysis.idling import find_idling, neutral_flow
from overlay.analysis.launches import find_launches, rungs
from overlay.analysis.means import NONE
from overlay.analysis.steady import find_steady
from overlay.analysis.steps import find_steps
from overlay.analysis.trim import running_trims
from sync.log import Channel


@pytest.fixture(scope="module")
def channels() -> dict[str, Channel]:
    return logged(sailed())


def test_idling_ahead_is_found_with_its_speed_and_flow(channels: dict[str, Channel]) -> None:
    (idle,) = find_idling(channels, find_steady(channels), 1)
    assert idle.name == "idle in gear"
    assert 1.0 < idle.speed.value < 4.0
    assert 400 / 60 < idle.engine_speed.value < 900 / 60
    assert idle.flow.known
    assert not idle.economy.range_m.known, "nobody idles home"


def test_going_astern_is_told_apart(channels: dict[str, Channel]) -> None:
    """The same idling with the lever on the other side."""
    gear = channels["gear"]
    back = {**channels, "gear": replace(gear, values=-gear.values)}
    names = [one.name for one in find_idling(back, find_steady(back), 1)]
    assert names == ["astern"]


def test_flow_out_of_gear_is_less_than_in_gear(channels: dict[str, Channel]) -> None:
    steady = find_steady(channels)
    (idle,) = find_idling(channels, steady, 1)
    neutral = neutral_flow(channels, steady, 1)
    assert 0 < neutral.value < idle.flow.value
    assert not neutral_flow(
        {k: c for k, c in channels.items() if k != "fuel_flow"}, steady, 1
    ).known
    assert not neutral_flow(channels, steady, 2).known, "an engine without a flow"


def test_running_trim_is_above_the_rest_whatever_the_sensors_mounting() -> None:
    day = sailed()
    truths = []
    for tilt in (0.7, -4.0):
        channels = logged(day, tilt_deg=tilt)
        steady = find_steady(channels)
        steps = find_steps(channels, steady, 1)
        trims = running_trims(channels, steady, steps)
        known = [(s, t) for s, t in zip(steps, trims, strict=True) if t.known]
        assert len(known) >= 3
        for step, trim in known:
            spans = [span for run in step.passes for span in run.spans]
            t = [np.arange(span.start_s, span.stop_s, 0.1) - T0 for span in spans]
            true = np.mean([np.mean(day.at("pitch_rad", one)) for one in t])
            rest = np.mean(day.at("pitch_rad", np.arange(5.0, 25.0, 0.1)))
            assert trim.value == pytest.approx(true - rest, abs=max(4 * trim.sd, 0.006))
        truths.append([trim.value for _, trim in known])
    np.testing.assert_allclose(truths[0], truths[1], atol=1e-3)
    no_pitch = {k: c for k, c in channels.items() if k != "pitch"}
    assert running_trims(no_pitch, steady, steps) == tuple(NONE for _ in steps)


def test_roll_on_times_are_free_of_the_start_and_of_the_delay() -> None:
    channels = logged(sailed())
    launches: list[Done] = [one for one in script()[1] if one.what == "launch"]
    late = {**channels, "speed": replace(channels["speed"], delay_sd_s=0.3)}
    found = find_launches(channels, rungs("mph", [10, 20, 30]), "throttle_or_engine")
    doubted = find_launches(late, rungs("mph", [10, 20, 30]), "throttle_or_engine")
    assert len(found) == len(launches)
    for one, other in zip(found, doubted, strict=True):
        assert [row.label for row in one.roll_on] == [
            "10 to 20 mph",
            "20 to 30 mph",
            "10 to 30 mph",
        ]
        times = [row.time_s.value for row in one.roll_on]
        assert times[2] == pytest.approx(times[0] + times[1])
        assert [row.time_s for row in other.roll_on] == [row.time_s for row in one.roll_on]
        assert other.ladder[0].sd_s > one.ladder[0].sd_s
