"""Launches: their times through the ladder, what a fit could reach at best, and the bow's rise."""

from __future__ import annotations

import math

import numpy as np
from boat_days import bound_mps, instruments, sail
from sailed import T0
from study import Outcome, Row

from demo_media.script import Command
from demo_media.simulate import Day
from demo_media.truth import launch_times
from overlay.analysis.ladder import rungs
from overlay.analysis.launches import Launch, find_launches
from overlay.analysis.smoothing import LAWS
from sync.channel import Channel

LADDER = rungs("mph", [10, 20, 30, 40])


def gone_off(rng: np.random.Generator) -> tuple[Day, float]:
    """A launch from rest, and when the lever moved."""
    start, course = float(rng.uniform(14, 20)), float(rng.uniform(0, 360))
    commands = [
        Command(t_s=0.0, lever=0.0, course_deg=course),
        Command(t_s=start, lever=1.0, lever_s=float(rng.uniform(0.4, 1.0)), course_deg=course),
    ]
    return sail(rng, commands, start + 32), start


def only_launch(channels: dict[str, Channel]) -> Launch | None:
    found = find_launches(channels, LADDER, "throttle_or_engine")
    return found[0] if len(found) == 1 else None


def launched(rng: np.random.Generator, *, throttle: bool) -> list[Outcome]:
    """The times of one launch through the ladder."""
    day, start = gone_off(rng)
    channels, late, lever_late = instruments(rng, day)
    true = launch_times(day, start)
    if not throttle:
        del channels["throttle"]
        lever_late = 0.0
        answers = engine_answers(day, start) - start
        true = {label: time - answers for label, time in true.items()}
    found = only_launch(channels)
    if found is None:
        return [Outcome(error=math.nan) for _ in true]
    by_label = {row.label.partition(" ")[0]: row for row in found.ladder}
    return [
        Outcome(error=math.nan)
        if label not in by_label
        else Outcome(
            error=by_label[label].time_s - time, delay=late - lever_late, sd=by_label[label].sd_s
        )
        for label, time in true.items()
    ]


def engine_answers(day: Day, lever_s: float) -> float:
    """When the engine began to turn faster after the lever was moved, as a start is defined that
    is told by engine speed: the line through the first half of its rise, traced back to where it
    stood. Gear and spring come before; and its first five turns a minute, for it gathers way."""
    before = float(np.median(day.at("engine_rps", np.arange(lever_s - 2, lever_s, 0.02))))
    t = np.arange(lever_s, lever_s + 3.0, 0.005)
    rise = day.at("engine_rps", t) - before
    first = int(np.argmax(rise > 0.1 * rise.max()))
    half = int(np.argmax(rise > 0.5 * rise.max()))
    slope, height = np.polyfit(t[first:half], rise[first:half], 1)
    return float(-height / slope)


def by_throttle(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Launches whose throttle is logged."""
    return launched(rng, throttle=True)


def by_engine(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Launches that engine speed must tell the start of."""
    return launched(rng, throttle=False)


def against_bound(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """When speed alone crosses the ladder, in units of what any fit of the same samples could
    reach at best: a parabola through half a second on either side, the noise's colour known."""
    day, start = gone_off(rng)
    channels, late, _ = instruments(rng, day)
    del channels["acceleration"]
    found = only_launch(channels)
    true = launch_times(day, start)
    if found is None:
        return [Outcome(error=math.nan) for _ in true]
    outcomes = []
    for row in found.ladder:
        crossed = start + true[row.label.partition(" ")[0]]
        since = channels["speed"].t_s - T0 - late - crossed
        since = since[np.abs(since) <= LAWS["parabola"].half_s]
        slope = float(np.diff(day.at("speed_mps", crossed + np.array([-0.05, 0.05])))[0]) / 0.1
        best = bound_mps(since, 2) / slope
        error = row.t_s - T0 - late - crossed
        outcomes.append(Outcome(error=error / best, sd=row.reading_sd_s / best))
    return outcomes


def by_roll_on(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """From one speed of the ladder to another, which no delay touches."""
    day, start = gone_off(rng)
    channels, _, _ = instruments(rng, day)
    found = only_launch(channels)
    true = launch_times(day, start)
    if found is None:
        return [Outcome(error=math.nan)]
    outcomes = []
    for row in found.roll_on:
        low, _, high = row.label.removesuffix(" mph").partition(" to ")
        outcomes.append(
            Outcome(error=row.time_s.value - (true[high] - true[low]), sd=row.time_s.sd)
        )
    return outcomes


ROWS = (
    Row(name="launch, throttle", goal=0.05, unit="ms", scale=1e3, short=12, run=by_throttle),
    Row(name="launch, engine", goal=0.05, unit="ms", scale=1e3, short=12, run=by_engine),
    Row(name="launch, bound", goal=1.5 * 1.96, unit="bounds", scale=1, short=12,
        run=against_bound),
    Row(name="roll-on", goal=0.06, unit="ms", scale=1e3, short=8, run=by_roll_on),
)  # fmt: skip
