"""Steps both ways, and turns: what is found of them, and how near their figures come."""

from __future__ import annotations

import math

import numpy as np
from boat_days import instruments, sail, sail_twice
from sailed import T0
from study import Outcome, Row

from demo_media.script import Command
from demo_media.simulate import Day
from overlay.analysis.steady import find_steady
from overlay.analysis.steps import Step, find_steps
from overlay.analysis.turning import find_turns
from sync.clock import Span

HOLD_S, TURN_S = 36.0, 26.0


def stepped(
    rng: np.random.Generator, *, calm: bool = False
) -> tuple[Day, Day, list[tuple[float, float, float]]]:
    """Two or three engine speeds there and back, and the same without waves where it is to be
    `calm`; and when which lever was held."""
    course = float(rng.uniform(0, 360))
    levers = sorted(
        rng.choice([0.55, 0.65, 0.75, 0.88, 1.0], int(rng.integers(2, 4)), replace=False)
    )
    commands, held, t = [Command(t_s=0.0, lever=0.3, course_deg=course)], [], 4.0
    for way in (course, (course + 180) % 360):
        for lever in levers:
            commands.append(Command(t_s=t, lever=float(lever), lever_s=1.5, course_deg=way))
            held.append((t, t + HOLD_S, float(lever)))
            t += HOLD_S
        commands.append(Command(t_s=t, lever=0.3, lever_s=2.0, course_deg=(way + 180) % 360))
        t += TURN_S
    return *sail_twice(rng, commands, t, calm=calm), held


def by_both_ways(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Speed of each step in knots, against that through the water over the very stretches; and,
    in the column `delay`, what waves had made of that: intervals must hold what she would have run
    through calm water."""
    day, calm, _ = stepped(rng, calm=True)
    knot = 1852 / 3600
    channels, _, _ = instruments(rng, day)
    outcomes = []
    for step in find_steps(channels, find_steady(channels), 1):
        if step.ways != "both":
            continue
        here, still = (both_ways_of(step, one, "water_mps") / knot for one in (day, calm))
        speed, sd = step.speed.value / knot, step.speed.sd / knot
        outcomes.append(Outcome(error=speed - still, delay=here - still, sd=sd))
    return outcomes or [Outcome(error=math.nan)]


def by_flow(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Fuel flow of each step in per cent of itself, likewise."""
    day, calm, _ = stepped(rng, calm=True)
    channels, _, _ = instruments(rng, day)
    outcomes = []
    for step in find_steps(channels, find_steady(channels), 1):
        if step.ways == "both":
            here, still = (both_ways_of(step, one, "fuel_flow_lph") for one in (day, calm))
            flow, sd = (100 * 3.6e6 * part / still for part in (step.flow.value, step.flow.sd))
            outcomes.append(Outcome(error=flow - 100, delay=100 * here / still - 100, sd=sd))
    return outcomes or [Outcome(error=math.nan)]


def by_economy(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Distance on a volume of fuel, in per cent of itself, likewise."""
    day, calm, _ = stepped(rng, calm=True)
    channels, _, _ = instruments(rng, day)
    outcomes = []
    for step in find_steps(channels, find_steady(channels), 1):
        if step.ways == "both":
            here, still = (
                3.6e6 * both_ways_of(step, one, "water_mps")
                / both_ways_of(step, one, "fuel_flow_lph")
                for one in (day, calm)
            )  # fmt: skip
            per, sd = (100 * part / still for part in (step.economy.per_volume_m.value,
                                                       step.economy.per_volume_m.sd))  # fmt: skip
            outcomes.append(Outcome(error=per - 100, delay=100 * here / still - 100, sd=sd))
    return outcomes or [Outcome(error=math.nan)]


def both_ways_of(step: Step, day: Day, what: str) -> float:
    """Mean of a step's stretches, the two directions counted alike."""
    means: dict[int, list[float]] = {1: [], -1: []}
    for run in step.passes:
        t = np.concatenate([np.arange(s.start_s, s.stop_s, 0.1) - T0 for s in run.spans])
        means[run.way].append(float(np.mean(day.at(what, t))))
    return float(np.mean(means[1]) + np.mean(means[-1])) / 2


def kept(day: Day, held: tuple[float, float, float]) -> bool:
    """Whether boat and engine, as they truly were, kept well inside a step's bands for twelve
    seconds before the lever was moved on: she may as well hang on her hump all the while."""
    t = np.arange(held[1] - 12.0, held[1] - 0.5, 0.1)
    for name, share in (("engine_rps", 0.015), ("speed_mps", 0.02)):
        values = day.at(name, t)
        if np.ptp(values) / 2 > share * np.median(values):
            return False
    return True


def missed_steps(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Levers that were held for 36 s each way, under which the boat kept steady both ways, and
    whose step is not there, or only one way."""
    day, _, held = stepped(rng)
    steady = {lever for _, _, lever in held}
    steady -= {one[2] for one in held if not kept(day, one)}
    channels, _, _ = instruments(rng, day)
    steps = find_steps(channels, find_steady(channels), 1)
    spans = [s for step in steps if step.ways == "both" for run in step.passes for s in run.spans]
    return [
        Outcome(error=math.nan if any(_mostly_in(s, T0 + low, T0 + high) for s in spans) else 1.0)
        for low, high, lever in held
        if lever in steady
    ] or [Outcome(error=math.nan)]


def invented_steps(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Planing steps where no lever was held."""
    day, _, held = stepped(rng)
    channels, _, _ = instruments(rng, day)
    steps = find_steps(channels, find_steady(channels), 1)
    spans = [s for step in steps if step.speed.value > 6 for run in step.passes for s in run.spans]
    return [
        Outcome(
            error=math.nan
            if any(_mostly_in(s, T0 + low, T0 + high) for low, high, _ in held)
            else 1.0
        )
        for s in spans
    ] or [Outcome(error=math.nan)]


def _mostly_in(span: Span, low_s: float, high_s: float) -> bool:
    """Whether four fifths of a stretch lie between two instants."""
    return min(span.stop_s, high_s) - max(span.start_s, low_s) > 0.8 * span.length_s


def by_circle(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """The diameter of a turn of a turn and a half and more, in per cent of itself."""
    course, helm = float(rng.uniform(0, 360)), float(rng.choice([-1, 1]) * rng.uniform(0.2, 0.5))
    commands = [
        Command(t_s=0.0, lever=0.55, course_deg=course),
        Command(t_s=22.0, lever=0.55, lever_s=1.0, helm=helm),
    ]
    day = sail(rng, commands, 22.0 + 64.0)
    channels, _, _ = instruments(rng, day)
    turns = [one for one in find_turns(channels) if one.stream_removed]
    if not turns or turns[0].held is None:
        return [Outcome(error=math.nan)]
    t = np.arange(turns[0].held.start_s, turns[0].held.stop_s, 0.1) - T0
    true = 2 * np.mean(day.at("water_mps", t)) / abs(np.mean(day.at("turn_rate_radps", t)))
    found = turns[0].diameter_m
    return [Outcome(error=100 * (found.value / true - 1), sd=100 * found.sd / true)]


ROWS = (
    Row(name="two-way speed", goal=0.05, unit="kn", scale=1, short=4, run=by_both_ways),
    Row(name="fuel flow", goal=0.5, unit="%", scale=1, short=4, run=by_flow),
    Row(name="economy", goal=0.5, unit="%", scale=1, short=4, run=by_economy),
    Row(name="steps missed", goal=0.0, unit="", scale=1, short=6, refuses=True, allowed=0.02,
        run=missed_steps),
    Row(name="steps invented", goal=0.0, unit="", scale=1, short=6, refuses=True,
        run=invented_steps),
    Row(name="turning diameter", goal=math.inf, unit="%", scale=1, short=8, answers=0.8,
        run=by_circle),
)  # fmt: skip
