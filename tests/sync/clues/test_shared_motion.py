"""Two logs without a mark, tied by what both felt: the right offset, or none and the reason."""

from __future__ import annotations

from functools import cache

import numpy as np
import outside
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from demo_media.boat import DEMO
from demo_media.noise import coloured
from demo_media.script import Command, Script
from demo_media.simulate import Day, simulate
from demo_media.swell import make_swell
from sync.channel import Channel
from sync.channel_kinds import CHANNELS
from sync.clock import UTC
from sync.clues import CLUES, Clue, Finding, shared_motion_clues
from sync.clues.motion.pairings import PAIRINGS, Pairing
from sync.clues.motion.search import search
from sync.clues.motion.signals import (
    STEP_S,
    Motion,
    Series,
    instants,
    on_grid,
    quick,
    slope,
    smoothed,
)
from sync.readers import read_log

Floats = NDArray[np.float64]

LAUNCHES = (40.0, 88.0, 171.0, 232.0, 330.0)
"""Seconds at which the throttle opens, at uneven intervals."""


@cache
def a_day(*launches: float) -> Day:
    """The demo's boat, opened up at given times for 20 s each, and turned after every second."""
    commands = [Command(t_s=0.0, lever=0.10, course_deg=30.0)]
    for k, t in enumerate(launches):
        course = 30.0 + 130.0 * ((k + 1) // 2)
        commands += [
            Command(t_s=t, lever=0.7 + 0.07 * (k % 4), lever_s=0.7, course_deg=course),
            Command(t_s=t + 14 + 2 * (k % 3), lever=0.1, lever_s=1.5, course_deg=course),
        ]
    length = max(launches) + 60.0
    script = Script(commands=tuple(commands), length_s=length, heading_deg=30.0)
    return simulate(script, DEMO, make_swell(4, 220.0, DEMO.hull.length_m))


@cache
def a_day_of_turns() -> Day:
    """The demo's boat at half throttle, turned at uneven intervals by uneven angles."""
    commands = [Command(t_s=0.0, lever=0.45, course_deg=0.0)]
    for t, course in ((40, 70), (75, 20), (121, 160), (150, 250), (203, 200), (232, 330)):
        commands.append(Command(t_s=float(t), lever=0.45, course_deg=float(course)))
    script = Script(commands=tuple(commands), length_s=270.0, heading_deg=0.0)
    return simulate(script, DEMO, make_swell(4, 220.0, DEMO.hull.length_m))


def gps(day: Day, seed: int = 1, *, hz: float = 10.0, delay_s: float = 0.2) -> list[Channel]:
    """A receiver's log on UTC."""
    rng = np.random.default_rng([seed, 1])
    t = np.arange(3.0, day.t_s[-1] - 3.0, 1 / hz)
    speed = day.at("speed_mps", t - delay_s)
    speed = speed + coloured(rng, t.size, sd=0.05, period_s=1 / hz, time_s=0.3)
    course = np.interp(t - delay_s, day.t_s, np.unwrap(day.course_rad))
    course += rng.normal(0, 0.05, t.size) / np.maximum(np.abs(speed), 0.3)
    told = {"clock": UTC, "delay_s": delay_s, "delay_sd_s": 0.03}
    return [
        Channel(name="speed", t_s=t, values=np.abs(speed), **told),
        Channel(name="course", t_s=t, values=np.mod(course, 2 * np.pi), **told),
    ]


def own(
    day: Day,
    name: str,
    *,
    offset_s: float,
    seed: int = 1,
    hz: float = 10.0,
    delay_s: float = 0.3,
    delay_sd_s: float = 0.04,
    clock: str = "log:engine",
) -> Channel:
    """A channel on a clock of its own: ``t_utc = t + offset``."""
    rng = np.random.default_rng([seed, 2])
    t = np.arange(11.03, day.t_s[-1] - 7.0, 1 / hz)
    series, sd = {
        "engine_speed": ("engine_rps", 0.2),
        "turn_rate": ("turn_rate_radps", 0.01),
        "speed": ("speed_mps", 0.05),
        "acceleration": ("acceleration_mps2", 0.2),
    }[name]
    values = day.at(series, t - delay_s)
    values = values + coloured(rng, t.size, sd=sd, period_s=1 / hz, time_s=0.4)
    return Channel(
        name=name,
        t_s=t - offset_s,
        values=values,
        clock=clock,
        delay_s=delay_s,
        delay_sd_s=delay_sd_s,
    )


def the_clue(finding: Finding) -> Clue:
    assert len(finding.clues) == 1, finding.remarks
    return finding.clues[0]


def refused(finding: Finding, *words: str) -> None:
    assert finding.clues == ()
    text = " ".join(finding.remarks)
    assert all(word in text for word in (*words, "would settle it")), text


# --- the table


def test_the_table_of_clues_names_it() -> None:
    assert "felt" in CLUES["shared_motion"].text


@pytest.mark.parametrize("pairing", PAIRINGS, ids=lambda p: f"{p.cause}-{p.effect}")
def test_every_pairing_is_of_channels_that_there_are(pairing: Pairing) -> None:
    assert pairing.cause in CHANNELS
    assert pairing.effect in CHANNELS
    assert pairing.lag_sd_s > 0


def test_no_pairing_stands_twice() -> None:
    assert len({frozenset((p.cause, p.effect)) for p in PAIRINGS}) == len(PAIRINGS)


# --- the truth, found


@pytest.mark.parametrize("offset_s", [-1284.637, 3.21, 1.78e9])
def test_engine_speed_is_tied_to_speed_over_ground(offset_s: float) -> None:
    day = a_day(*LAUNCHES)
    clue = the_clue(shared_motion_clues([*gps(day), own(day, "engine_speed", offset_s=offset_s)]))
    assert (clue.kind, clue.from_clock, clue.to_clock) == ("shared_motion", "log:engine", UTC)
    assert clue.offset_s == pytest.approx(offset_s, abs=0.15)
    assert abs(clue.offset_s - offset_s) < 3 * clue.sd_s
    assert not clue.hint
    assert clue.at_s is not None
    assert 30.0 < clue.at_s + offset_s < 390.0


def test_rate_of_turn_is_tied_to_course_over_ground() -> None:
    day = a_day_of_turns()
    clue = the_clue(shared_motion_clues([*gps(day), own(day, "turn_rate", offset_s=55.5)]))
    assert clue.offset_s == pytest.approx(55.5, abs=0.1)
    assert "rate of turn and course" in clue.text


def test_acceleration_is_tied_to_speed_over_ground() -> None:
    day = a_day(*LAUNCHES)
    clue = the_clue(
        shared_motion_clues([*gps(day), own(day, "acceleration", offset_s=-8.25, hz=50.0)])
    )
    assert clue.offset_s == pytest.approx(-8.25, abs=0.15)


@pytest.mark.parametrize("hz", [10.0, 5.0, 2.0])
def test_speed_is_tied_to_speed_at_other_rates(hz: float) -> None:
    day = a_day(*LAUNCHES)
    clue = the_clue(shared_motion_clues([gps(day)[0], own(day, "speed", offset_s=77.7, hz=hz)]))
    assert clue.offset_s == pytest.approx(77.7, abs=0.1)


def test_it_does_not_matter_which_of_the_two_is_on_utc() -> None:
    day = a_day(*LAUNCHES)
    speed = gps(day)[0]
    engine = own(day, "engine_speed", offset_s=0.0, clock=UTC)
    moved = Channel(
        name="speed", t_s=speed.t_s - 400.0, values=speed.values, clock="log:gps",
        delay_s=speed.delay_s, delay_sd_s=speed.delay_sd_s,
    )  # fmt: skip
    clue = the_clue(shared_motion_clues([engine, moved]))
    assert (clue.from_clock, clue.to_clock) == ("log:gps", UTC)
    assert clue.offset_s == pytest.approx(400.0, abs=0.15)


def test_a_hole_in_one_log_does_no_harm() -> None:
    day = a_day(*LAUNCHES)
    speed, _ = gps(day)
    keep = (speed.t_s < 120.0) | (speed.t_s > 160.0)
    holed = Channel(
        name="speed", t_s=speed.t_s[keep], values=speed.values[keep], clock=UTC,
        delay_s=speed.delay_s, delay_sd_s=speed.delay_sd_s,
    )  # fmt: skip
    clue = the_clue(shared_motion_clues([holed, own(day, "engine_speed", offset_s=20.0)]))
    assert clue.offset_s == pytest.approx(20.0, abs=0.15)


AAVA_SHA256 = "65abc4a8db5e6a970d47cd204c25126857b99577bec67b653ddf0b128fad1b8f"


@pytest.mark.outside
@pytest.mark.parametrize("name", ["heading", "course"])
def test_a_real_log_cut_in_two_is_put_together_again(name: str) -> None:
    """Every other sample of a boat's ten minutes under way (npm signalk-server 2.23.0,
    `samples/aava-n2k.data`, an NMEA 2000 bus, once a second) as two loggers half a minute
    apart. The samples differ, the motion is one, and the truth is known."""
    path = outside.npm("signalk-server", "2.23.0", "samples/aava-n2k.data", AAVA_SHA256)
    channel = read_log(path).channels[name]
    one = Channel(
        name=name, t_s=channel.t_s[::2] - 30.0, values=channel.values[::2], clock="log:one"
    )
    other = Channel(name=name, t_s=channel.t_s[1::2], values=channel.values[1::2], clock=UTC)
    clue = the_clue(shared_motion_clues([one, other]))
    assert clue.offset_s == pytest.approx(30.0, abs=0.2)
    assert abs(clue.offset_s - 30.0) < 3 * clue.sd_s


# --- delays


def test_delays_are_taken_out_and_their_doubt_is_counted_once() -> None:
    """Whatever is known of a delay leaves the offset alone; its deviation adds in quadrature."""
    day = a_day(*LAUNCHES)
    clues = {
        sd: the_clue(
            shared_motion_clues(
                [*gps(day), own(day, "engine_speed", offset_s=9.0, delay_s=0.5, delay_sd_s=sd)]
            )
        )
        for sd in (0.0, 0.1)
    }
    assert clues[0.0].offset_s == clues[0.1].offset_s
    assert clues[0.0].offset_s == pytest.approx(9.0, abs=0.15)
    assert clues[0.1].sd_s ** 2 - clues[0.0].sd_s ** 2 == pytest.approx(0.1**2)
    assert f"± {np.hypot(0.1, 0.03):.3f} s from the channels' delays" in clues[0.1].text


def test_a_delay_that_nobody_knows_moves_the_offset_by_itself() -> None:
    day = a_day(*LAUNCHES)
    engine = own(day, "engine_speed", offset_s=9.0, delay_s=0.4)
    unaware = Channel(name="engine_speed", t_s=engine.t_s, values=engine.values, clock="log:engine")
    aware = the_clue(shared_motion_clues([*gps(day), engine]))
    late = the_clue(shared_motion_clues([*gps(day), unaware]))
    assert late.offset_s - aware.offset_s == pytest.approx(-0.4, abs=0.01)


# --- refusals


def test_logs_of_another_day_are_refused() -> None:
    days = [LAUNCHES, (55.0, 130.0, 190.0, 301.0), (30.0, 111.0, 158.0, 219.0, 300.0, 342.0)]
    for i, one in enumerate(days):
        for other in days[:i] + days[i + 1 :]:
            logs = [*gps(a_day(*one)), own(a_day(*other), "engine_speed", offset_s=12.0)]
            refused(shared_motion_clues(logs), "the log 'engine' and UTC")


def test_one_launch_is_like_any_other() -> None:
    day = a_day(60.0)
    refused(shared_motion_clues([gps(day)[0], own(day, "engine_speed", offset_s=5.0)]), "launches")


def test_launches_at_even_intervals_fit_in_more_than_one_way() -> None:
    t = np.arange(0.0, 600.0, 0.1)
    rps = 12 + 60 * ((t % 60.0) < 20.0)
    speed = a_boat(rps)
    logs = [
        Channel(name="speed", t_s=t, values=speed, clock=UTC),
        Channel(name="engine_speed", t_s=t - 100.0, values=rps, clock="log:engine"),
    ]
    refused(shared_motion_clues(logs), "fit nearly as well", "100.0 s")


def test_a_speed_that_hardly_changes_says_so() -> None:
    rng = np.random.default_rng(3)
    t = np.arange(0.0, 400.0, 0.1)
    logs = [
        Channel(name="speed", t_s=t, values=8 + rng.normal(0, 0.1, t.size), clock=UTC),
        Channel(name="engine_speed", t_s=t, values=50 + rng.normal(0, 1, t.size), clock="log:e"),
    ]
    refused(shared_motion_clues(logs), "speed hardly changes", "launches")


def test_logs_that_share_nothing_that_moves_say_nothing() -> None:
    t = np.arange(0.0, 100.0, 0.1)
    logs = [
        Channel(name="voltage", t_s=t, values=np.sin(t), clock=UTC),
        Channel(name="engine_speed", t_s=t, values=np.cos(t), clock="log:e"),
    ]
    assert shared_motion_clues(logs) == Finding()
    assert shared_motion_clues([]) == Finding()


def test_a_log_of_days_is_not_gone_through() -> None:
    t = np.array([0.0, 10.0, 1e9, 1e9 + 10])
    logs = [
        Channel(name="speed", t_s=t, values=t * 0 + [1, 9, 2, 8], clock=UTC),
        Channel(name="speed", t_s=t, values=t * 0 + [1, 9, 2, 8], clock="log:e"),
    ]
    refused(shared_motion_clues(logs), "more than 12 h")


# --- the means to it


def a_boat(rps: Floats, step_s: float = 0.1) -> Floats:
    """Speed of a boat with thrust n² − n v and quadratic drag, by Euler's steps."""
    speed = np.zeros(rps.size)
    for i in range(rps.size - 1):
        push = 0.0011 * rps[i] ** 2 - 0.0016 * rps[i] * speed[i] - 0.006 * speed[i] ** 2
        speed[i + 1] = speed[i] + push * step_s
    return speed


def test_slopes_are_those_of_savitzky_and_golay() -> None:
    """Against scipy.signal.savgol_filter: the slope of a straight line through 11 points."""
    from scipy.signal import savgol_filter

    values = np.random.default_rng(0).normal(0, 1, 200)
    ours = slope(Series(start_s=0.0, values=values), 0.5).values
    theirs = savgol_filter(values, 11, 1, deriv=1, delta=STEP_S)
    np.testing.assert_allclose(ours[5:-5], theirs[5:-5], atol=1e-12)
    assert np.all(np.isnan(ours[:5]))
    assert np.all(np.isnan(ours[-5:]))


def test_levels_and_slopes_see_the_same_window() -> None:
    """The slope under a line is the derivative under a parabola: on a cubic both are exact to
    the same extent, and neither is moved in time."""
    t = np.arange(-5.0, 5.0, STEP_S)
    values = t**3 - 2 * t**2 + t
    ours = slope(Series(start_s=-5.0, values=values), 0.5).values
    derivative = smoothed(Series(start_s=-5.0, values=3 * t**2 - 4 * t + 1), 0.5).values
    inner = slice(8, -8)
    np.testing.assert_allclose(ours[inner], derivative[inner], atol=0.01)


def test_a_hole_empties_half_a_window_around_it() -> None:
    values = np.linspace(0, 10, 101)
    values[50] = np.nan
    found = smoothed(Series(start_s=0.0, values=values), 0.5).values
    assert np.array_equal(
        np.flatnonzero(np.isnan(found)), [*range(5), *range(45, 56), *range(96, 101)]
    )
    np.testing.assert_allclose(found[60:90], values[60:90], atol=1e-12)


def test_a_fast_channel_is_averaged_and_a_direction_unwound() -> None:
    t = np.arange(0.0, 20.0, 0.02)
    fast = on_grid(
        Channel(name="acceleration", t_s=t, values=np.where(t < 10, 1.0, 3.0), clock="x")
    )
    assert np.nanmax(np.abs(fast.values[:99] - 1)) < 1e-12
    course = Channel(name="course", t_s=t, values=np.mod(0.5 * t + 6, 2 * np.pi), clock="x")
    turned = on_grid(course)
    np.testing.assert_allclose(np.diff(turned.values)[1:], 0.05, atol=1e-9)
    assert instants(turned)[-1] == pytest.approx(19.9)


def test_what_is_fast_is_what_is_left_of_a_running_mean() -> None:
    values = np.array([0.0, 0.0, 3.0, 0.0, 0.0, 6.0])
    there = np.array([True, True, True, True, True, False])
    found = quick(values, there, STEP_S)  # one step on either side
    np.testing.assert_allclose(found, [0.0, -1.0, 2.0, -1.0, 0.0, 0.0])


def test_the_search_by_transforms_is_the_search_by_hand() -> None:
    """Gain at the best of all offsets, against a least-squares fit at every one of them."""
    rng = np.random.default_rng(8)
    felt = np.cumsum(rng.normal(0, 1, 1800))
    felt -= np.convolve(felt, np.ones(101) / 101, mode="same")
    cause = Series(start_s=4.0, values=felt[150:1650])
    effect = Series(start_s=100.0, values=2.0 * felt[:1500] + rng.normal(0, 1, 1500))
    motion = Motion(cause=cause, effect=effect, state=effect, own=(), joint=((1, 0),), fast_s=2.0)
    best, second = search(motion)
    x = quick(cause.values, np.ones(1500, bool), 2.0)[::3]
    y = quick(effect.values, np.ones(1500, bool), 2.0)[::3]
    gains = {}
    for lag in range(-(y.size - 1), x.size):
        i = np.arange(max(0, -lag), min(y.size, x.size - lag))
        if i.size * 0.3 < 60.0:
            continue
        a, b = x[i + lag], y[i]
        r2 = 1 - (1 + 1 / (i.size * 0.3 - 1)) * (1 - (a @ b) ** 2 / ((a @ a) * (b @ b)))
        gains[lag] = -i.size * 0.3 * np.log1p(-max(r2, 0.0))
    by_hand = max(gains, key=lambda lag: gains[lag])
    assert best.shift_s == pytest.approx(4.0 - 100.0 + 0.3 * by_hand)
    assert best.shift_s == pytest.approx(4.0 - 100.0 - 15.0)
    assert best.gain == pytest.approx(gains[by_hand], rel=1e-3)
    assert second.gain < best.gain


@settings(max_examples=8, deadline=None)
@given(st.floats(-2e4, 2e4), st.integers(0, 2**16))
def test_setting_a_clock_otherwise_moves_the_clue_by_as_much(shift: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    t = np.arange(0.0, 300.0, 0.1)
    rps = np.full(t.size, 12.0)
    for start in np.cumsum(rng.uniform(18, 40, 7)):
        rps[(t > start) & (t < start + rng.uniform(8, 14))] += rng.uniform(25, 60)
    speed = a_boat(rps) + rng.normal(0, 0.02, t.size)
    found = [
        shared_motion_clues(
            [
                Channel(name="speed", t_s=t, values=np.maximum(speed, 0), clock=UTC),
                Channel(name="engine_speed", t_s=t - by, values=rps, clock="log:e"),
            ]
        )
        for by in (0.0, shift)
    ]
    assert len(found[0].clues) == len(found[1].clues)
    for still, moved in zip(found[0].clues, found[1].clues, strict=True):
        assert still.offset_s == pytest.approx(0.0, abs=0.15)
        assert moved.offset_s - still.offset_s == pytest.approx(shift, abs=1e-3)
        assert moved.sd_s == pytest.approx(still.sd_s, rel=1e-2)


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(3, 200), st.sampled_from([0.02, 0.1, 1.0, 7.0]))
def test_whatever_a_log_holds_there_is_an_answer(seed: int, count: int, period_s: float) -> None:
    """Constant, empty, broken or wild: a clue or a remark, and no warning."""
    rng = np.random.default_rng(seed)
    logs = []
    for clock in (UTC, "log:e"):
        for name in ("speed", "engine_speed", "course", "turn_rate"):
            t = np.cumsum(rng.choice([period_s, period_s, period_s, 50 * period_s], count))
            kind = rng.integers(4)
            values = [np.zeros(count), rng.normal(0, 1, count), rng.normal(0, 1e6, count),
                      np.cumsum(rng.normal(0, 1, count))][kind]  # fmt: skip
            values = np.where(rng.uniform(size=count) < 0.1, np.nan, values)
            logs.append(Channel(name=name, t_s=t, values=values, clock=clock))
    finding = shared_motion_clues(logs)
    assert finding.clues or finding.remarks or count < 10
