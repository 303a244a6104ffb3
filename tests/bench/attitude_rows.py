"""How she lies, and how she stops and idles: bow rise, time to plane, trim, stops, idling."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from boat_days import instruments, sail_twice
from sailed import T0
from step_rows import both_ways_of
from study import Outcome, Row

from demo_media.script import Command
from demo_media.simulate import Day
from overlay.analysis.attitude import AIDED_ERROR_RAD, Planing, launch_attitude
from overlay.analysis.idling import AHEAD, find_idling
from overlay.analysis.ladder import rungs
from overlay.analysis.launches import find_launches
from overlay.analysis.means import Mean
from overlay.analysis.steady import find_steady
from overlay.analysis.steps import Step, find_steps
from overlay.analysis.stopping import WAY_OFF_MPS, find_stops
from overlay.analysis.trim import running_trims
from sync.channel import Channel

REST_S, LAUNCH_S, HOLD_S, TURN_S = 30.0, 34.0, 36.0, 26.0
LEAST_PLANING_MPS = 7.0
"""Her hump lies below 6 m/s and her lowest planing step well above it."""


def launched_and_stepped(rng: np.random.Generator) -> tuple[Day, Day]:
    """Rest, a launch, and one step both ways at an engine speed at which she planes; and the same
    through calm water."""
    course, lever = float(rng.uniform(0, 360)), float(rng.choice([0.6, 0.7, 0.8]))
    back = (course + 180) % 360
    t = REST_S
    commands = [Command(t_s=0.0, lever=0.0, course_deg=course)]
    commands.append(Command(t_s=t, lever=1.0, lever_s=0.6, course_deg=course))
    t += LAUNCH_S
    commands.append(Command(t_s=t, lever=lever, lever_s=1.5, course_deg=course))
    t += HOLD_S
    commands.append(Command(t_s=t, lever=lever, course_deg=back))
    t += TURN_S + HOLD_S
    return sail_twice(rng, commands, t)


def with_sensor(rng: np.random.Generator, channels: dict[str, Channel]) -> dict[str, Channel]:
    """The channels with a sensor of pitch that errs while the boat is pushed, as much as an aided
    one may: the bound is for two deviations."""
    pitch, push = channels["pitch"], channels["acceleration"]
    slow = np.convolve(push.values, np.full(50, 1 / 50), mode="same")
    pushed = np.clip(slow / (0.3 * float(slow.max())), 0.0, 1.0)
    error = float(rng.normal(0, AIDED_ERROR_RAD / 2)) * np.interp(pitch.t_s, push.t_s, pushed)
    return {**channels, "pitch": replace(pitch, values=pitch.values + error)}


def lowest(steps: tuple[Step, ...]) -> Step | None:
    """The step of the day at which she planes."""
    planing = [one for one in steps if one.speed.value > LEAST_PLANING_MPS and one.ways == "both"]
    return min(planing, key=lambda one: one.speed.value) if planing else None


def smoothed(day: Day, t: np.ndarray) -> np.ndarray:
    """True pitch under the mean of 0.3 s that definitions ask for."""
    near = np.arange(-0.15, 0.151, 0.02)
    return np.asarray(np.mean([day.at("pitch_rad", t + s) for s in near], axis=0))


def by_bow_rise(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Bow rise in degrees: how far the bow truly came up in that launch, waves and all, over how
    she lies in calm water."""
    day, calm = launched_and_stepped(rng)
    channels = with_sensor(rng, instruments(rng, day)[0])
    launches = find_launches(channels, rungs("mph", [10, 20]), "throttle_or_engine")
    if len(launches) != 1:
        return [Outcome(error=math.nan)]
    made = launch_attitude(channels, launches[0], AIDED_ERROR_RAD, Planing(choice="two_thirds"))
    level = float(np.mean(calm.at("pitch_rad", np.arange(REST_S - 10, REST_S, 0.05))))
    up = np.arange(REST_S, launches[0].stop_s - T0, 0.02)
    true = float(smoothed(day, up).max()) - level
    error, sd = made.bow_rise.value - true, made.bow_rise.sd
    return [Outcome(error=math.degrees(error), sd=math.degrees(sd))]


def by_plane(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Time to plane in seconds; what waves move it by, against calm water, is in the column
    `delay`, and intervals must hold the calm one."""
    day, calm = launched_and_stepped(rng)
    channels, _, _ = instruments(rng, day)
    launches = find_launches(channels, rungs("mph", [10, 20]), "throttle_or_engine")
    step = lowest(find_steps(channels, find_steady(channels), 1))
    if len(launches) != 1 or step is None:
        return [Outcome(error=math.nan)]
    planing = Planing(choice="two_thirds", trim=step.pitch, trim_mps=step.speed.value)
    made = launch_attitude(channels, launches[0], AIDED_ERROR_RAD, planing)
    here, still = (true_plane(one, step) for one in (day, calm))
    return [Outcome(error=made.plane_s.value - still, delay=here - still, sd=made.plane_s.sd)]


def true_plane(day: Day, step: Step) -> float:
    """When pitch has truly fallen two thirds of the way, from the lever's moving."""
    t = np.arange(REST_S, REST_S + LAUNCH_S, 0.02)
    pitch, trim = smoothed(day, t), both_ways_of(step, day, "pitch_rad")
    top = int(np.argmax(pitch))
    line = pitch[top] - 2 / 3 * (pitch[top] - trim)
    under = np.flatnonzero(pitch[top:] <= line)
    return float(t[top + under[0]]) - REST_S if under.size else math.nan


def by_trim(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Running trim of a step in degrees, likewise against calm water."""
    day, calm = launched_and_stepped(rng)
    channels, _, _ = instruments(rng, day)
    steady = find_steady(channels)
    steps = find_steps(channels, steady, 1)
    step = lowest(steps)
    if step is None:
        return [Outcome(error=math.nan)]
    found = dict(zip([one.name for one in steps], running_trims(channels, steady, steps),
                     strict=True))[step.name]  # fmt: skip
    rest = next(one.span for one in steady if one.kind == "rest")
    at = np.arange(rest.start_s, rest.stop_s, 0.05) - T0
    true = [
        both_ways_of(step, one, "pitch_rad") - float(np.mean(one.at("pitch_rad", at)))
        for one in (day, calm)
    ]
    error, sd = found.value - true[1], found.sd
    return [
        Outcome(
            error=math.degrees(error), delay=math.degrees(true[0] - true[1]), sd=math.degrees(sd)
        )
    ]


def stopped(rng: np.random.Generator) -> tuple[Mean, float, Mean, float] | None:
    """Time and distance of a stop from a planing speed, each with the true one."""
    course, lever = float(rng.uniform(0, 360)), float(rng.uniform(0.6, 1.0))
    shut = 30.0 + float(rng.uniform(0, 4))
    commands = [
        Command(t_s=0.0, lever=lever, course_deg=course),
        Command(t_s=shut, lever=0.0, lever_s=float(rng.uniform(0.3, 1.0)), course_deg=course),
    ]
    day = sail_twice(rng, commands, shut + 55, calm=False)[0]
    channels, _, _ = instruments(rng, day)
    found = find_stops(channels)
    t = np.arange(shut, shut + 50, 0.01)
    under = np.flatnonzero(day.at("speed_mps", t) < WAY_OFF_MPS)
    if len(found) != 1 or not under.size:
        return None
    way = t[: under[0] + 1]
    gone = float(np.trapezoid(day.at("speed_mps", way), way))
    return found[0].time_s, float(way[-1]) - shut, found[0].distance_m, gone


def by_stop_time(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """The time of a stop in seconds; none where the stream carries her on at two knots."""
    one = stopped(rng)
    return [Outcome(error=math.nan) if one is None else Outcome(error=one[0].value - one[1],
                                                                sd=one[0].sd)]  # fmt: skip


def by_stop_way(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """The distance of a stop in metres."""
    one = stopped(rng)
    return [Outcome(error=math.nan) if one is None else Outcome(error=one[2].value - one[3],
                                                                sd=one[2].sd)]  # fmt: skip


def by_idling(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Speed idling in gear both ways in knots, against that through calm water. A stream across of
    half her speed turns her courses so far that they are not reciprocal: then there is no
    answer."""
    course, t = float(rng.uniform(0, 360)), 0.0
    commands = []
    for way in (course, (course + 180) % 360):
        commands.append(Command(t_s=t, lever=0.1, course_deg=way))
        t += 75.0
    day, calm = sail_twice(rng, commands, t)
    channels, _, _ = instruments(rng, day)
    knot = 1852 / 3600
    held = [
        one
        for one in find_idling(channels, find_steady(channels), 1).held
        if one.name == AHEAD and one.ways == "both"
    ]
    out = []
    for one in held:
        here, still = (both_ways_of(one, which, "water_mps") / knot for which in (day, calm))
        out.append(
            Outcome(error=one.speed.value / knot - still, delay=here - still,
                    sd=one.speed.sd / knot)
        )  # fmt: skip
    return out or [Outcome(error=math.nan)]


ROWS = (
    Row(name="bow rise", goal=0.6, unit="deg", scale=1, short=4, run=by_bow_rise),
    Row(name="time to plane", goal=0.5, unit="s", scale=1, short=4, run=by_plane),
    Row(name="running trim", goal=0.3, unit="deg", scale=1, short=4, run=by_trim),
    Row(name="stop, time", goal=1.5, unit="s", scale=1, short=4, answers=0.8, run=by_stop_time),
    Row(name="stop, distance", goal=2.0, unit="m", scale=1, short=4, answers=0.8, run=by_stop_way),
    Row(name="idling", goal=0.15, unit="kn", scale=1, short=4, answers=0.5, run=by_idling),
)
