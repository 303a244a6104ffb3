"""Steady stretches: found where the helmsman held them, and nowhere else."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sailed import T0, logged, sailed, script

from overlay.analysis.steady import LEAST_S, find_steady
from sync.channel import Channel
from sync.clock import UTC

STEPS = [one for one in script()[1] if one.what == "step"]
LAUNCHES = [one for one in script()[1] if one.what == "launch"]


def channel(name: str, values: np.ndarray, instance: int = 0) -> Channel:
    t = T0 + 0.1 * np.arange(values.size)
    return Channel(name=name, instance=instance, clock=UTC, t_s=t, values=values)


def held(rpm: float, speed_mps: float, length_s: float, course_deg: float = 90.0) -> dict:
    """A boat that does one thing."""
    n = round(length_s * 10)
    return {
        "speed": channel("speed", np.full(n, speed_mps)),
        "engine_speed": channel("engine_speed", np.full(n, rpm / 60)),
        "course": channel("course", np.full(n, math.radians(course_deg))),
    }


def after(*parts: dict) -> dict:
    """One thing after another."""
    return {
        key: channel(key, np.concatenate([part[key].values for part in parts])) for key in parts[0]
    }


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("swell", [11, 12])
def test_every_step_of_a_day_is_found_and_none_is_invented(swell: int, seed: int) -> None:
    """Each step was held for 32 s, of which the boat needs up to 20 to settle. What is found
    under way lies in a step, in what is held at the end of a launch, or in the idling between,
    where the lever is held too."""
    found = find_steady(logged(sailed(swell), seed))
    steps = [one for one in found if one.kind == "step" and one.speed_mps > 2.5]
    held_by = []
    for one in steps:
        (done,) = [
            done
            for done in (*STEPS, *LAUNCHES)
            if done.start_s <= one.span.start_s - T0 and one.span.stop_s - T0 <= done.stop_s + 1
        ]
        off = math.degrees(one.course_rad) - done.course_deg
        assert abs(math.remainder(off, 360)) < 6
        held_by.append(done)
    assert held_by == sorted((*STEPS, *LAUNCHES), key=lambda done: done.start_s)


def test_the_means_are_those_of_the_day() -> None:
    """Held against the noise-free series of the simulation."""
    day = sailed()
    for one in find_steady(logged(day)):
        inside = (day.t_s + T0 >= one.span.start_s) & (day.t_s + T0 < one.span.stop_s)
        assert one.speed_mps == pytest.approx(float(np.mean(day.speed_mps[inside])), abs=0.05)
        rps = float(np.mean(day.engine_rps[inside]))
        assert one.engine_speed_rps == pytest.approx(rps, abs=3 / 60)


def test_what_a_boat_holds_is_one_stretch() -> None:
    (one,) = find_steady(held(3000, 12.0, 30.0))
    assert (one.kind, one.engine_speed_rps * 60, one.speed_mps) == ("step", pytest.approx(3000), 12)
    assert one.course_rad == pytest.approx(math.pi / 2)
    assert one.span.length_s == pytest.approx(30, abs=1.6)


@pytest.mark.parametrize(("length_s", "count"), [(LEAST_S - 0.5, 0), (LEAST_S + 2.0, 1)])
def test_less_than_eight_seconds_do_not_count(length_s: float, count: int) -> None:
    assert len(find_steady(held(3000, 12.0, length_s))) == count


@pytest.mark.parametrize(
    ("rpm", "other", "count"),
    [
        (5000, 5150, 1),  # within ±2 % of their middle
        (5000, 5250, 2),
        (1000, 1080, 1),  # within ±50 rpm
        (1000, 1120, 2),
    ],
)
def test_the_band_of_engine_speed_is_2_percent_or_50_rpm(
    rpm: float, other: float, count: int
) -> None:
    """The band: 40 CFR 91.410(b), ±50 rpm or ±2 %, whichever is greater."""
    found = find_steady(after(held(rpm, 12.0, 20.0), held(other, 12.0, 20.0)))
    assert len(found) == count


def test_a_boat_that_gains_speed_is_not_steady() -> None:
    """From 12 to 20 m/s in 40 s at one engine speed, 0.2 m/s each second: a band of ±3 % is
    1.2 m/s wide at the most, which is 6 s of it."""
    rising = held(4000, 12.0, 40.0)
    rising["speed"] = channel("speed", np.linspace(12, 20, 400))
    assert find_steady(rising) == ()


def test_a_turn_is_not_steady() -> None:
    """A circle in a minute at one engine speed and speed: 20° are passed in 3.3 s."""
    circle = held(4000, 12.0, 60.0)
    circle["course"] = channel("course", np.mod(np.linspace(0, 2 * math.pi, 600), 2 * math.pi))
    assert find_steady(circle) == ()


def test_a_course_about_north_is_one_course() -> None:
    north = held(3000, 12.0, 30.0)
    swing = np.mod(np.radians(4 * np.sin(np.arange(300) / 15)), 2 * math.pi)
    north["course"] = channel("course", swing)
    (one,) = find_steady(north)
    assert abs(math.remainder(one.course_rad, 2 * math.pi)) < math.radians(1)


def test_a_hole_ends_a_stretch() -> None:
    whole = held(3000, 12.0, 40.0)
    values = whole["speed"].values.copy()
    values[200:230] = np.nan
    broken = {**whole, "speed": channel("speed", values)}
    first, second = find_steady(broken)
    assert first.span.stop_s <= T0 + 20.1
    assert second.span.start_s >= T0 + 22.9


def test_rest_and_astern_are_told_apart() -> None:
    lies, backs = held(700, 0.1, 20.0), held(1500, 2.0, 20.0)
    lies["gear"] = channel("gear", np.zeros(200))
    backs["gear"] = channel("gear", -np.ones(200))
    rest, astern = find_steady(after(lies, backs))
    assert (rest.kind, astern.kind) == ("rest", "astern")
    assert math.isnan(rest.course_rad)


def test_both_engines_must_be_steady() -> None:
    two = held(3000, 12.0, 30.0)
    starboard = np.repeat([3000.0, 3400.0, 3000.0, 3400.0, 3000.0, 3400.0], 50) / 60
    two["engine_speed.1"] = channel("engine_speed", starboard, instance=1)
    assert find_steady(two) == ()
    two["engine_speed.1"] = channel("engine_speed", np.full(300, 3100 / 60), instance=1)
    (one,) = find_steady(two)
    assert one.engine_speed_rps * 60 == pytest.approx(3050)


def test_without_speed_there_are_none_and_without_an_engine_speed_decides() -> None:
    alone = held(3000, 12.0, 30.0)
    assert find_steady({"engine_speed": alone["engine_speed"]}) == ()
    (one,) = find_steady({"speed": alone["speed"]})
    assert math.isnan(one.engine_speed_rps)
    assert math.isnan(one.course_rad)


@settings(max_examples=40, deadline=None)
@given(
    shift_s=st.floats(-1e6, 1e6).map(lambda s: round(s * 4) / 4),
    levels=st.lists(st.sampled_from([1000, 2000, 3000, 4000]), min_size=1, max_size=5),
)
def test_time_and_order_do_not_matter(shift_s: float, levels: list[int]) -> None:
    """Stretches do not overlap, are long enough, and move with the day."""
    day = after(*(held(level, level / 300, 12.0) for level in levels))
    found = find_steady(day)
    assert all(one.span.length_s >= LEAST_S for one in found)
    assert all(a.span.stop_s <= b.span.start_s for a, b in pairwise(found))
    moved = {key: replace(one, t_s=one.t_s + shift_s) for key, one in reversed(day.items())}
    again = find_steady(moved)
    assert [round(one.engine_speed_rps * 60) for one in again] == [
        round(one.engine_speed_rps * 60) for one in found
    ]
    for one, other in zip(found, again, strict=True):
        assert other.span.start_s - shift_s == pytest.approx(one.span.start_s, abs=0.3)
