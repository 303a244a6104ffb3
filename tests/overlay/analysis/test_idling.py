"""What a day's idling and running trim come to, on a simulated day."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from sailed import T0, Done, logged, sailed, script

from overlay.analysis.idling import find_idling, neutral_flow
from overlay.analysis.ladder import rungs
from overlay.analysis.launches import find_launches
from overlay.analysis.means import NONE
from overlay.analysis.steady import find_steady
from overlay.analysis.steps import Step, find_steps
from overlay.analysis.trim import running_trims
from sync.channel import Channel
from sync.clock import UTC


@pytest.fixture(scope="module")
def channels() -> dict[str, Channel]:
    return logged(sailed())


def held(channels: dict[str, Channel]) -> tuple[Step, ...]:
    return find_idling(channels, find_steady(channels), 1).held


def idled(*ways: tuple[float, float, float], gear: float = 1.0) -> dict[str, Channel]:
    """A quiet idling day: how long, at what speed over ground and on which course [deg], each
    after ten seconds of turning there."""
    t = np.arange(0.0, sum(length + 10 for length, *_ in ways), 0.1)
    speed, course = np.zeros(t.size), np.zeros(t.size)
    begin, before = 0.0, ways[0][2] - 90.0
    for length, pace, to in ways:
        here = t >= begin
        speed[here] = pace
        course[here] = np.interp(t[here], [begin, begin + 10], [before, to])
        begin, before = begin + length + 10, to
    rng = np.random.default_rng(1)
    rows = {
        "speed": speed + rng.normal(0, 0.01, t.size),
        "course": np.radians(course + rng.normal(0, 1, t.size)) % (2 * math.pi),
        "engine_speed": np.full(t.size, 640 / 60),
        "gear": np.full(t.size, gear),
        "fuel_flow": np.full(t.size, 1.0 / 3.6e6),
    }
    return {
        key: Channel(name=key, clock=UTC, t_s=T0 + t, values=values) for key, values in rows.items()
    }


def test_idling_ahead_is_found_with_its_speed_and_flow(channels: dict[str, Channel]) -> None:
    (idle,) = held(channels)
    assert idle.name == "idle in gear"
    assert 1.0 < idle.speed.value < 4.0
    assert 400 / 60 < idle.engine_speed.value < 900 / 60
    assert idle.flow.known
    assert not idle.economy.range_m.known, "nobody idles home"


def test_both_ways_the_current_drops_out_of_idling() -> None:
    found = find_idling(
        day := idled((30, 1.2, 62), (30, 2.2, 242), (30, 1.2, 422)), find_steady(day), 1
    )
    (idle,) = found.held
    assert (idle.ways, len(idle.passes)) == ("both", 3)
    assert idle.speed.value == pytest.approx(1.7, abs=0.02)
    assert idle.two_way is not None
    assert idle.two_way.stream_mps[1] == pytest.approx(0.5, abs=0.02)


def test_a_course_without_a_way_back_is_single_and_by_itself() -> None:
    """Never one row for passes on many courses, which would have one of them for all."""
    idle = held(idled((30, 1.2, 62), (30, 2.2, 242), (40, 1.6, 340), (30, 1.6, 62)))
    assert [(one.ways, len(one.passes)) for one in idle] == [("both", 3), ("single", 1)]
    assert math.degrees(idle[1].passes[0].course_rad) == pytest.approx(340, abs=2)
    for one in idle:
        for run in one.passes:
            off = run.course_rad - one.passes[0].course_rad
            assert abs(math.sin(off)) < math.sin(math.radians(30))


def test_turning_and_short_stretches_are_left_out_and_told() -> None:
    """The speed is steady throughout, so it is one stretch in the log of speed."""
    day = idled((4, 1.5, 10), (5, 1.5, 130), (30, 1.5, 270), (3, 1.5, 100))
    found = find_idling(day, find_steady(day), 1)
    (idle,) = found.held
    assert math.degrees(idle.passes[0].course_rad) == pytest.approx(270, abs=3)
    assert 30 < idle.passes[0].length_s < 36
    day = idled((4, 1.5, 10), (5, 1.5, 130), (4, 1.5, 270), (3, 1.5, 100))
    found = find_idling(day, find_steady(day), 1)
    assert not found.held
    assert "no course was held" in found.remarks[0]


def test_what_drifts_out_of_gear_is_no_idling_in_gear() -> None:
    day = idled((40, 1.5, 62), (40, 1.5, 242), gear=0.0)
    assert held(day) == ()
    del day["gear"]
    found = find_idling(day, find_steady(day), 1)
    assert found.held
    assert "no gear is logged" in found.remarks[-1]


def test_a_bow_that_swings_is_a_turn_before_the_course_tells_it() -> None:
    day = idled((60, 1.5, 62))
    t = day["speed"].t_s
    rate = np.where((t > T0 + 30) & (t < T0 + 40), math.radians(9.0), 0.0)
    day["turn_rate"] = Channel(name="turn_rate", clock=UTC, t_s=t, values=rate)
    (idle,) = held(day)
    for run in idle.passes:
        for span in run.spans:
            assert abs(float(np.sum(rate[(t >= span.start_s) & (t < span.stop_s)])) * 0.1) < 0.36


def test_what_all_flows_are_out_by_no_mean_makes_smaller() -> None:
    day = idled((30, 1.2, 62), (30, 2.2, 242))
    steady = find_steady(day)
    (sure,), (out,) = (find_idling(day, steady, 1, share).held for share in (0.0, 0.03))
    assert sure.flow.sd < 0.001 * sure.flow.value
    assert out.flow.sd == pytest.approx(0.03 * out.flow.value, rel=0.01)


def test_going_astern_is_told_apart(channels: dict[str, Channel]) -> None:
    """The same idling with the lever on the other side; astern at any engine speed."""
    gear = channels["gear"]
    back = {**channels, "gear": replace(gear, values=-gear.values)}
    found = held(back)
    assert {one.name for one in found} == {"astern"}
    assert max(one.engine_speed.value for one in found) > 900 / 60


def test_flow_out_of_gear_is_less_than_in_gear(channels: dict[str, Channel]) -> None:
    steady = find_steady(channels)
    (idle,) = held(channels)
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
