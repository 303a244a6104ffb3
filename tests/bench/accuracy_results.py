"""How near results come to the truth, and how well they know how near.

Every trial simulates a piece of a day of its own from a seed: a boat of some mass in a sea of her
own, with a stream of up to 2 kn from anywhere, and logs with coloured noise and delays that are
drawn from what the sheet would state. What a wrong delay adds is printed apart, in the column
`delay`; `study.py` says when a row holds. Exits 1 where a row misses.

    python tests/bench/accuracy_results.py --short
    python tests/bench/accuracy_results.py --only "two-way speed" --trials 50
"""

from __future__ import annotations

import math
import os
import sys
from dataclasses import replace
from pathlib import Path

# One trial a process: threads within a trial only get in each other's way.
os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
from sailed import T0, logged
from study import Outcome, Row, main

from demo_media.boat import DEMO
from demo_media.noise import coloured
from demo_media.script import Command, Script
from demo_media.simulate import Day, simulate
from demo_media.swell import make_swell
from demo_media.truth import launch_times
from overlay.analysis.launches import find_launches, rungs
from overlay.analysis.steady import find_steady
from overlay.analysis.steps import find_steps
from overlay.analysis.turning import find_turns
from sync.clock import Span
from sync.log import Channel

LADDER_MPH = (10, 20, 30, 40)
MOST_STREAM_MPS = 2 * 1852 / 3600
RECEIVER_SD_S, LEVER_SD_S = 0.02, 0.01
"""Doubts about delays that a careful crew would state."""

DOPPLER_SD_MPS, DOPPLER_S = 0.05, 0.3
"""Noise of speed, ten values a second: its size from receivers' data sheets (from memory)."""


def sail(rng: np.random.Generator, commands: list[Command], length_s: float) -> Day:
    """Obey some commands in a boat, a sea and a stream that are drawn at random."""
    hull = replace(DEMO.hull, mass_kg=float(rng.uniform(1000, 1400)))
    weather = replace(
        DEMO.weather,
        current_mps=float(rng.uniform(0, MOST_STREAM_MPS)),
        current_to_deg=float(rng.uniform(0, 360)),
    )
    course = commands[0].course_deg or 0.0
    script = Script(commands=tuple(commands), length_s=length_s, heading_deg=course)
    swell = make_swell(int(rng.integers(1 << 30)), 220.0, hull.length_m)
    return simulate(script, replace(DEMO, hull=hull, weather=weather), swell)


def instruments(rng: np.random.Generator, day: Day) -> tuple[dict[str, Channel], float, float]:
    """The day's channels with the delays that are stated taken out: speed and throttle late by
    what nobody knows; and how late that is, for each of the two."""
    channels = logged(day, int(rng.integers(1 << 30)))
    late = float(rng.normal(0, RECEIVER_SD_S))
    lever_late = float(rng.normal(0, LEVER_SD_S))
    t = channels["speed"].t_s - T0
    noise = coloured(rng, t.size, sd=DOPPLER_SD_MPS, period_s=0.1, time_s=DOPPLER_S)
    speed = np.abs(day.at("speed_mps", t - late) + noise)
    throttle = np.abs(day.at("lever", t - lever_late))
    channels["speed"] = replace(channels["speed"], values=speed, delay_sd_s=RECEIVER_SD_S)
    channels["throttle"] = replace(
        channels["throttle"], values=np.round(throttle, 3), delay_sd_s=LEVER_SD_S
    )
    return channels, late, lever_late


def launched(rng: np.random.Generator, *, throttle: bool) -> list[Outcome]:
    """The times of one launch through the ladder."""
    start, course = float(rng.uniform(14, 20)), float(rng.uniform(0, 360))
    commands = [
        Command(t_s=0.0, lever=0.0, course_deg=course),
        Command(t_s=start, lever=1.0, lever_s=float(rng.uniform(0.4, 1.0)), course_deg=course),
    ]
    day = sail(rng, commands, start + 32)
    channels, late, lever_late = instruments(rng, day)
    if not throttle:
        del channels["throttle"]
        lever_late = 0.0
    found = find_launches(channels, rungs("mph", list(LADDER_MPH)), "throttle_or_engine")
    true = launch_times(day, start)
    if not throttle:
        answers = engine_answers(day, start) - start
        true = {label: time - answers for label, time in true.items()}
    if len(found) != 1:
        return [Outcome(error=math.nan) for _ in true]
    by_label = {row.label.partition(" ")[0]: row for row in found[0].ladder}
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


HOLD_S, TURN_S = 36.0, 26.0


def stepped(rng: np.random.Generator) -> tuple[Day, list[tuple[float, float, float]]]:
    """Two or three engine speeds there and back; and when which lever was held."""
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
    return sail(rng, commands, t), held


def by_both_ways(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Speed of each step in knots, against that through the water over the very stretches."""
    day, _ = stepped(rng)
    channels, _, _ = instruments(rng, day)
    outcomes = []
    for step in find_steps(channels, find_steady(channels), 1):
        if step.ways != "both":
            continue
        means: dict[int, list[float]] = {1: [], -1: []}
        for run in step.passes:
            parts = [
                day.at("water_mps", np.arange(s.start_s, s.stop_s, 0.1) - T0) for s in run.spans
            ]
            means[run.way].append(float(np.mean(np.concatenate(parts))))
        true = (np.mean(means[1]) + np.mean(means[-1])) / 2
        knot = 1852 / 3600
        outcomes.append(Outcome(error=(step.speed.value - true) / knot, sd=step.speed.sd / knot))
    return outcomes or [Outcome(error=math.nan)]


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
    day, held = stepped(rng)
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
    day, held = stepped(rng)
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
    day = sail(rng, commands, 22.0 + 44.0)
    channels, _, _ = instruments(rng, day)
    turns = [one for one in find_turns(channels) if one.stream_removed]
    if not turns or turns[0].held is None:
        return [Outcome(error=math.nan)]
    t = np.arange(turns[0].held.start_s, turns[0].held.stop_s, 0.1) - T0
    true = 2 * np.mean(day.at("water_mps", t)) / abs(np.mean(day.at("turn_rate_radps", t)))
    found = turns[0].diameter_m
    return [Outcome(error=100 * (found.value / true - 1), sd=100 * found.sd / true)]


ROWS = (
    Row(name="launch, throttle", goal=0.05, unit="ms", scale=1e3, short=12, run=by_throttle),
    Row(name="launch, engine", goal=0.05, unit="ms", scale=1e3, short=12, run=by_engine),
    Row(name="two-way speed", goal=0.05, unit="kn", scale=1, short=6, run=by_both_ways),
    Row(name="steps missed", goal=0.0, unit="", scale=1, short=6, refuses=True, allowed=0.02,
        run=missed_steps),
    Row(name="steps invented", goal=0.0, unit="", scale=1, short=6, refuses=True,
        run=invented_steps),
    Row(name="turning diameter", goal=math.inf, unit="%", scale=1, short=8, answers=0.8,
        run=by_circle),
)  # fmt: skip

if __name__ == "__main__":
    sys.exit(main(ROWS, __doc__.splitlines()[0]))
