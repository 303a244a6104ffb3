"""Logs against logs: days of the demo's boat, with random scripts, masses and currents.

Instruments have coloured noise, and delays that are drawn from what the sheet would state.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
from study import Outcome, Row

from demo_media.boat import DEMO
from demo_media.noise import coloured
from demo_media.script import Command, Script
from demo_media.simulate import Day, simulate
from demo_media.swell import make_swell
from sync.channel import Channel
from sync.clock import UTC
from sync.clues import (
    Clue,
    shared_mark_clues,
    shared_motion_clues,
)
from sync.log import Mark
from sync.tie import solve

DAYS, SHORT_DAYS = 12, 4
DAY_S = 900.0

RECEIVER_S, RECEIVER_SD_S = 0.20, 0.05
GATEWAY_S, GATEWAY_SD_S = 0.30, 0.10
"""Delays as a sheet may state them, within 0.1 to 0.3 s and 0.1 to 0.5 s (common practice, no
published source)."""


def random_script(rng: np.random.Generator) -> Script:
    """Launches, steps, turns and a little astern, in random order at random times."""
    course = float(rng.uniform(0, 360))
    commands = [Command(t_s=0.0, lever=0.10, course_deg=course)]
    t = float(rng.uniform(20, 40))

    def then(
        lever: float, stay: tuple[float, float], pace: tuple[float, float], helm: float = 0.0
    ) -> None:
        nonlocal t
        steered = None if helm else course
        commands.append(
            Command(
                t_s=t, lever=lever, lever_s=float(rng.uniform(*pace)), course_deg=steered, helm=helm
            )
        )
        t += float(rng.uniform(*stay))

    while t < DAY_S - 60:
        kind = rng.choice(["launch", "steps", "turn", "astern"], p=[0.35, 0.35, 0.25, 0.05])
        if kind == "launch":
            then(float(rng.uniform(0.7, 1)), (12, 35), (0.4, 1.2))
            then(0.10, (15, 50), (0.8, 3))
        elif kind == "steps":
            lever = float(rng.uniform(0.2, 0.4))
            for _ in range(int(rng.integers(2, 5))):
                then(lever, (15, 45), (0.5, 2))
                lever = min(lever + float(rng.uniform(0.08, 0.25)), 1.0)
        elif kind == "turn":
            lever = float(rng.uniform(0.3, 0.6))
            then(lever, (6, 15), (1, 1.5), float(rng.choice([-1, 1]) * rng.uniform(0.2, 0.8)))
            course = float(rng.uniform(0, 360))
            then(lever, (15, 35), (1, 1.5))
        else:
            then(0.0, (12, 18), (0.8, 1.2))
            then(-0.15, (6, 10), (0.8, 1.2))
            then(0.10, (15, 25), (0.8, 1.2))
    commands.append(Command(t_s=t, lever=0.0, course_deg=course))
    return Script(commands=tuple(commands), length_s=DAY_S, heading_deg=course)


@cache
def day(number: int) -> Day:
    """A boat's quarter of an hour: its mass and the current differ from day to day."""
    rng = np.random.default_rng([20260611, number])
    hull = replace(DEMO.hull, mass_kg=float(rng.uniform(950, 1450)))
    weather = replace(
        DEMO.weather,
        current_mps=float(rng.uniform(0, 0.5)),
        current_to_deg=float(rng.uniform(0, 360)),
    )
    return simulate(
        random_script(rng),
        replace(DEMO, hull=hull, weather=weather),
        make_swell(number, 220.0, hull.length_m),
    )


def receiver(rng: np.random.Generator, of: Day) -> tuple[list[Channel], float]:
    """Speed and course on UTC, ten times a second, at times with a hole; and the true delay."""
    t = np.arange(rng.uniform(0, 60), rng.uniform(780, 899), 0.1)
    if rng.uniform() < 0.5:
        hole = float(rng.uniform(200, 600))
        t = t[(t < hole) | (t > hole + rng.uniform(5, 40))]
    delay = float(rng.normal(RECEIVER_S, RECEIVER_SD_S))
    along, across = (coloured(rng, t.size, sd=0.05, period_s=0.1, time_s=0.3) for _ in range(2))
    speed = of.at("speed_mps", t - delay) + along
    course = np.interp(t - delay, of.t_s, np.unwrap(of.course_rad))
    course += across / np.maximum(np.abs(speed), 0.3)
    made = {"speed": np.abs(speed), "course": np.mod(course, 2 * np.pi)}
    return [
        Channel(
            name=name, t_s=t, values=values, clock=UTC, delay_s=RECEIVER_S, delay_sd_s=RECEIVER_SD_S
        )
        for name, values in made.items()
    ], delay


def engine_log(
    rng: np.random.Generator, of: Day, offset_s: float, names: tuple[str, ...]
) -> tuple[list[Channel], float]:
    """Engine speed and rate of turn on a clock of their own, stamps jittering; and the delay."""
    start, stop = rng.uniform(0, 150), rng.uniform(700, 899)
    t = np.arange(start, stop, 0.1)
    t = t + rng.uniform(-0.02, 0.02, t.size)
    delay = float(rng.normal(GATEWAY_S, GATEWAY_SD_S))
    rps = of.at("engine_rps", t - delay) + coloured(rng, t.size, sd=0.2, period_s=0.1, time_s=0.5)
    made = {
        "engine_speed": np.round(rps * 240) / 240,
        "turn_rate": of.at("turn_rate_radps", t - delay)
        + coloured(rng, t.size, sd=0.01, period_s=0.1, time_s=0.5),
    }
    return [
        Channel(
            name=name,
            t_s=t - offset_s,
            values=made[name],
            clock="log:engine",
            delay_s=GATEWAY_S,
            delay_sd_s=GATEWAY_SD_S,
        )
        for name in names
    ], delay


def by_motion(rng: np.random.Generator, short: bool, names: tuple[str, ...]) -> list[Outcome]:
    """The offset of an engine log to a receiver's that felt the same day."""
    of = day(int(rng.integers(SHORT_DAYS if short else DAYS)))
    offset = float(rng.uniform(-5e3, 5e3))
    heard, late = receiver(rng, of)
    logged, later = engine_log(rng, of, offset, names)
    found = shared_motion_clues([*heard, *logged]).clues
    if not found:
        return [Outcome(error=math.nan)]
    part = (later - GATEWAY_S) - (late - RECEIVER_S)
    # Stamps that are later than is known make the log's clock look slow by as much.
    return [Outcome(error=found[0].offset_s - offset, delay=-part, sd=found[0].sd_s)]


def by_engine_speed(rng: np.random.Generator, short: bool) -> list[Outcome]:
    """By the engine's speed alone."""
    return by_motion(rng, short, ("engine_speed",))


def by_turn_rate(rng: np.random.Generator, short: bool) -> list[Outcome]:
    """By the rate of turn alone."""
    return by_motion(rng, short, ("turn_rate",))


def other_day(rng: np.random.Generator, short: bool) -> list[Outcome]:
    """Logs of two days: any clue is an error."""
    days = SHORT_DAYS if short else DAYS
    one = int(rng.integers(days))
    other = (one + 1 + int(rng.integers(days - 1))) % days
    heard, _ = receiver(rng, day(one))
    logged, _ = engine_log(rng, day(other), 0.0, ("engine_speed", "turn_rate"))
    found = shared_motion_clues([*heard, *logged])
    assert found.remarks or found.clues, "a refusal says why"
    return [Outcome(error=1.0 if found.clues else math.nan)]


def by_marks(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """The rate of a clock from two to five shared marks within half an hour, stamped to 1 ms."""
    rate, offset = float(rng.normal(0, 20e-6)), float(rng.uniform(1.7e9, 1.8e9))
    times = np.sort(np.r_[rng.uniform(0, 30), rng.uniform(1770, 1800), rng.uniform(30, 1770, 3)])
    times = times[: int(rng.integers(2, 6))] if rng.uniform() < 0.1 else times
    kept = np.r_[times[0], times[-1], times[1:-1][: int(rng.integers(0, 4))]]
    if np.ptp(kept) < 1700:
        kept[np.argmax(kept)] = kept.min() + 1760
    marks = [
        mark
        for i, t in enumerate(kept.tolist())
        for mark in (
            Mark(label=f"mark {i}", clock="log:x", t_s=t + rng.normal(0, 1e-3), sd_s=1e-3),
            Mark(
                label=f"mark {i}",
                clock=UTC,
                t_s=offset + t * (1 + rate) + rng.normal(0, 1e-3),
                sd_s=1e-3,
            ),
        )
    ]
    tie = solve(["log:x"], shared_mark_clues(marks).clues, {}).by_clock.get("log:x")
    if tie is None:
        return [Outcome(error=math.nan)]
    return [Outcome(error=tie.map.rate - 1 - rate, sd=tie.rate_sd)]


def graph(rng: np.random.Generator) -> tuple[list[Clue], dict[str, tuple[float, float]]]:
    """Three logs and two recordings with clues at instants over half an hour, in rings."""
    clocks = ("log:gps", "log:engine", "log:attitude", "footage:bow", "footage:stern")
    truth = {c: (float(rng.uniform(-1e3, 1e3)), float(rng.normal(0, 20e-6))) for c in clocks}
    truth[UTC] = (0.0, 0.0)
    ways = [
        ("log:gps", UTC), ("log:engine", "log:gps"), ("log:engine", UTC), ("log:attitude", UTC),
        ("footage:bow", "log:engine"), ("footage:bow", UTC), ("footage:stern", "footage:bow"),
        ("footage:stern", "log:attitude"),
    ]  # fmt: skip
    clues = []
    for of, to in ways:
        for k in range(int(rng.integers(1, 3))):
            t = float(rng.uniform(0, 1800))
            sd = float(10 ** rng.uniform(-3, -1.5))
            # The instant on UTC, then where it stands on the other clock.
            at_utc = t + truth[of][0] + truth[of][1] * t
            t_to = (at_utc - truth[to][0]) / (1 + truth[to][1])
            clues.append(
                Clue(
                    kind=f"kind {k}",
                    from_clock=of,
                    to_clock=to,
                    offset_s=t_to - t + float(rng.normal(0, sd)),
                    sd_s=sd,
                    at_s=t,
                )
            )
    return clues, truth


def closing(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Closing errors of all loops of a graph, in units of what they state."""
    clues, truth = graph(rng)
    ties = solve(truth, clues, {})
    return [Outcome(error=loop.misclosure_s / loop.sd_s) for loop in ties.loops]


def carried(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Where ties put an instant of every clock, against the truth."""
    clues, truth = graph(rng)
    ties = solve(truth, clues, {})
    found = []
    for clock, tie in ties.by_clock.items():
        t = float(rng.uniform(0, 1800))
        error = tie.map.carry(t) - (t + truth[clock][0] + truth[clock][1] * t)
        found.append(Outcome(error=error, sd=tie.sd_at(t)))
    return found


ROWS = (
    Row(name="motion", goal=0.15, unit="ms", scale=1e3, short=4,
        run=by_engine_speed),
    Row(name="turns", goal=0.15, unit="ms", scale=1e3, short=8, answers=0.3,
        run=by_turn_rate),
    Row(name="motion, other day", goal=0.0, unit="", scale=1, short=6, refuses=True,
        run=other_day),
    Row(name="rate", goal=5e-6, unit="ppm", scale=1e6, short=200, run=by_marks),
    Row(name="loops", goal=math.inf, unit="sd", scale=1, short=60, run=closing),
    Row(name="carried", goal=math.inf, unit="ms", scale=1e3, short=60, run=carried),
)  # fmt: skip
