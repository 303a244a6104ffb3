"""Steps: passes at one engine speed, paired, and the speed that both ways come to."""

from __future__ import annotations

import math

import numpy as np
import pytest
from sailed import LEVERS, T0, logged, sailed, script

from overlay.analysis.steady import Steady, find_steady
from overlay.analysis.steps import Step, find_steps, same_engine_speed
from sync.channel import Channel
from sync.clock import UTC, Span
from sync.units import to_si

KNOT = to_si(1.0, "kn", "speed")
CURRENTS = (0.0, 0.5, 1.03)


def steps_of(current_mps: float, swell: int = 11, seed: int = 1) -> tuple[Step, ...]:
    channels = logged(sailed(swell, current_mps), seed)
    return find_steps(channels, find_steady(channels), 1)


@pytest.mark.parametrize("current_mps", CURRENTS)
def test_every_step_of_the_day_has_passes_both_ways(current_mps: float) -> None:
    """The day has four levers each way; at the lowest she settles for too short a time to say
    more of than that she was there."""
    steps = steps_of(current_mps)
    both = [step for step in steps if step.ways == "both"]
    assert len(both) >= len(LEVERS) - 1
    assert all({run.way for run in step.passes} == {1, -1} for step in both)


@pytest.mark.parametrize("current_mps", CURRENTS)
def test_two_ways_give_the_speed_through_the_water(current_mps: float) -> None:
    """The stream is 2 kn at the most; the true speed is the simulation's, over the very
    stretches that were found."""
    day = sailed(11, current_mps)
    for step in steps_of(current_mps):
        if step.ways != "both":
            continue
        true = [np.mean([np.mean(_true(day, span)) for span in run.spans]) for run in step.passes]
        there = np.mean([v for v, run in zip(true, step.passes, strict=True) if run.way == 1])
        back = np.mean([v for v, run in zip(true, step.passes, strict=True) if run.way == -1])
        assert step.speed.value == pytest.approx((there + back) / 2, abs=0.05 * KNOT)


def _true(day, span: Span) -> np.ndarray:
    t = np.arange(span.start_s, span.stop_s, 0.1) - T0
    return day.at("water_mps", t)


def test_a_single_pass_is_marked_single() -> None:
    channels = logged(sailed())
    last = script()[1][len(LEVERS) - 1].stop_s
    there = {key: one.cut(Span(start_s=T0, stop_s=T0 + last)) for key, one in channels.items()}
    steps = find_steps(there, find_steady(there), 1)
    assert steps
    assert {step.ways for step in steps} == {"single"}
    assert all(step.two_way is None for step in steps)


def steady(start_s: float, rpm: float, course_deg: float, length_s: float = 20.0) -> Steady:
    return Steady(
        span=Span(start_s=start_s, stop_s=start_s + length_s), kind="step",
        engine_speed_rps=rpm / 60, speed_mps=10.0, course_rad=math.radians(course_deg),
    )  # fmt: skip


def flat(name: str, value: float, instance: int = 0, length_s: float = 600.0) -> Channel:
    t = np.arange(0.0, length_s, 0.1)
    return Channel(
        name=name, instance=instance, clock=UTC, t_s=t, values=np.full(t.size, value)
    )  # fmt: skip


def test_a_wave_does_not_make_two_passes_of_one() -> None:
    channels = {"speed": flat("speed", 10.0), "engine_speed": flat("engine_speed", 50.0)}
    parts = [steady(0, 3000, 45), steady(25, 3010, 47), steady(200, 3000, 225)]
    (step,) = find_steps(channels, parts, 1)
    assert [len(run.spans) for run in step.passes] == [2, 1]
    assert step.name == "3000 rpm"


def test_a_flow_that_one_engine_lacks_is_no_flow() -> None:
    channels = {
        "speed": flat("speed", 10.0),
        "engine_speed": flat("engine_speed", 50.0),
        "fuel_flow": flat("fuel_flow", 1e-5),
    }
    (one,) = find_steps(channels, [steady(0, 3000, 45)], 1)
    (two,) = find_steps(channels, [steady(0, 3000, 45)], 2)
    assert one.flow.value == pytest.approx(1e-5)
    assert not two.flow.known
    assert two.speed.known


def test_two_passes_there_count_no_more_than_one_back() -> None:
    t = np.arange(0.0, 600.0, 0.1)
    flow = np.where(t < 350, 1e-5, 2e-5)
    channels = {
        "speed": flat("speed", 10.0),
        "engine_speed": flat("engine_speed", 50.0),
        "fuel_flow": Channel(name="fuel_flow", clock=UTC, t_s=t, values=flow),
    }
    parts = [steady(0, 3000, 45), steady(200, 3000, 45), steady(400, 3000, 225)]
    (step,) = find_steps(channels, parts, 1)
    assert step.flow.value == pytest.approx(1.5e-5)


def test_one_engine_speed_is_within_three_per_cent_or_a_hundred_rpm() -> None:
    assert same_engine_speed(1000 / 60, 1090 / 60)
    assert not same_engine_speed(1000 / 60, 1110 / 60)
    assert same_engine_speed(5000 / 60, 5140 / 60)
    assert not same_engine_speed(5000 / 60, 5160 / 60)
