"""How near the clocks come to the truth, and how well they know how near.

Every row simulates trials with known truth from a seed. The boat's days are those of the demo's
simulation, with random scripts, masses and currents; instruments have coloured noise, and delays
that are drawn from what the sheet would state. What such a doubt adds to the error is printed
apart, in the column `delay`. A row holds where 95 % of its errors stay under the goal and its
95 % intervals hold the truth in 90 to 99 % of the trials. Exits 1 where a row misses.

    python tests/bench/accuracy_sync.py --short
    python tests/bench/accuracy_sync.py --only motion --trials 50
"""

from __future__ import annotations

import argparse
import datetime as dt
import math
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from code_wave import bits_from, wave
from heard_twice import heard_twice
from sounds import RATE, engine, some_under_way, unit, wind, with_claps

from demo_media.boat import DEMO
from demo_media.noise import coloured
from demo_media.script import Command, Script
from demo_media.simulate import Day, simulate
from demo_media.swell import make_swell
from sync.clock import UTC, Span
from sync.clues import (
    Clue,
    Scene,
    clap_clues,
    find_impulses,
    shared_mark_clues,
    shared_motion_clues,
)
from sync.clues.clap import sound_speed
from sync.clues.linear_timecode import find_code
from sync.clues.shared_sound import shared_sound_clues
from sync.clues.timecode import (
    Setting,
    TrialDay,
    code_labels,
    container_labels,
    timecode_clues,
)
from sync.log import Channel, Mark
from sync.tie import solve
from sync.timecode import RATES, frames_of, label_of, seconds_of

Floats = NDArray[np.float64]

TRIALS = 200
DAYS, SHORT_DAYS = 12, 4
DAY_S = 900.0

RECEIVER_S, RECEIVER_SD_S = 0.20, 0.05
GATEWAY_S, GATEWAY_SD_S = 0.30, 0.10
"""Delays as a sheet may state them, within 0.1 to 0.3 s and 0.1 to 0.5 s (common practice, no
published source)."""


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """One quantity of one trial: its error, the part of it that delays made, and its stated
    standard deviation. An error of NaN means that there was no answer."""

    error: float
    delay: float = 0.0
    sd: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Row:
    """What is tried: the goal in `unit`s, and how many of a hundred must have an answer."""

    name: str
    goal: float
    unit: str
    scale: float
    short: int
    run: Callable[[np.random.Generator, int], list[Outcome]]
    answers: float = 0.9
    refuses: bool = False
    sure: bool = True


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


def by_motion(rng: np.random.Generator, days: int, names: tuple[str, ...]) -> list[Outcome]:
    """The offset of an engine log to a receiver's that felt the same day."""
    of = day(int(rng.integers(days)))
    offset = float(rng.uniform(-5e3, 5e3))
    heard, late = receiver(rng, of)
    logged, later = engine_log(rng, of, offset, names)
    found = shared_motion_clues([*heard, *logged]).clues
    if not found:
        return [Outcome(error=math.nan)]
    part = (later - GATEWAY_S) - (late - RECEIVER_S)
    # Stamps that are later than is known make the log's clock look slow by as much.
    return [Outcome(error=found[0].offset_s - offset, delay=-part, sd=found[0].sd_s)]


def another_day(rng: np.random.Generator, days: int) -> list[Outcome]:
    """Logs of two days: any clue is an error."""
    one = int(rng.integers(days))
    other = (one + 1 + int(rng.integers(days - 1))) % days
    heard, _ = receiver(rng, day(one))
    logged, _ = engine_log(rng, day(other), 0.0, ("engine_speed", "turn_rate"))
    found = shared_motion_clues([*heard, *logged])
    assert found.remarks or found.clues, "a refusal says why"
    return [Outcome(error=1.0 if found.clues else math.nan)]


def by_marks(rng: np.random.Generator, _days: int) -> list[Outcome]:
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


def closing(rng: np.random.Generator, _days: int) -> list[Outcome]:
    """Closing errors of all loops of a graph, in units of what they state."""
    clues, truth = graph(rng)
    ties = solve(truth, clues, {})
    return [Outcome(error=loop.misclosure_s / loop.sd_s) for loop in ties.loops]


def carried(rng: np.random.Generator, _days: int) -> list[Outcome]:
    """Where ties put an instant of every clock, against the truth."""
    clues, truth = graph(rng)
    ties = solve(truth, clues, {})
    found = []
    for clock, tie in ties.by_clock.items():
        t = float(rng.uniform(0, 1800))
        error = tie.map.carry(t) - (t + truth[clock][0] + truth[clock][1] * t)
        found.append(Outcome(error=error, sd=tie.sd_at(t)))
    return found


def by_clap(rng: np.random.Generator, _days: int) -> list[Outcome]:
    """A clap as loud as wind and engine together, its mark stamped to 1 ms, 1.5 m away."""
    offset, distance = 1_781_168_412.345, 1.5
    scene = Scene(
        clock="footage:bow",
        span=Span(start_s=0, stop_s=12),
        distance_m=distance,
        distance_sd_m=0.05,
        air_temperature_k=290.15,
    )
    at = float(rng.uniform(2, 10))
    sound = with_claps(some_under_way(12.0, rng), [at + distance / sound_speed(290.15)], 0.0, rng)
    stamped = round(offset + at, 3)
    mark = Mark(label="clap", clock=UTC, t_s=stamped, sd_s=0.001 / math.sqrt(12))
    hint = Clue(
        kind="stamps", from_clock="footage:bow", to_clock=UTC, offset_s=offset + 20.0, sd_s=40.0,
        hint=True,
    )  # fmt: skip
    found = clap_clues(scene, find_impulses(sound, RATE, 0.0), [mark], [hint]).clues
    if not found:
        return [Outcome(error=math.nan)]
    return [Outcome(error=found[0].offset_s - offset, sd=found[0].sd_s)]


GENERATOR_SD_S = 0.02
CODE_RATES = ("24", "25", "29.97 drop", "30")
NOON = dt.datetime(2026, 6, 11, 12, tzinfo=dt.UTC).timestamp()
CODE_DAY = TrialDay(
    date=dt.date(2026, 6, 11), time_zone="UTC", logs=Span(start_s=NOON - 4e4, stop_s=NOON + 4e4)
)


def labelled_at(t_utc_s: float, key: str, set_utc_s: float) -> tuple[int, float]:
    """The label that a generator shows at an instant, set to the time of day at another, and
    how long before the instant it came up."""
    rate = RATES[key]
    midnight = NOON - 43_200.0
    mark = ";" if rate.drop else ":"
    hour = int((set_utc_s - midnight) // 3600)
    start = frames_of(f"{hour:02d}:00:00{mark}00", rate)
    frames = (t_utc_s - midnight - 3600 * hour) * float(rate.rate_hz)
    return start + math.floor(frames), (frames % 1.0) / float(rate.rate_hz)


def by_timecode(rng: np.random.Generator, _days: int) -> list[Outcome]:
    """A container's timecode, its frames anywhere within those of the generator, which was set
    in the morning by a clock that is out by a little; errors in frames."""
    rate = RATES[str(rng.choice(CODE_RATES))]
    set_utc = NOON - 3600.0 * int(rng.integers(1, 8))
    start, wrong = float(rng.uniform(NOON, NOON + 7200)), float(rng.normal(0, GENERATOR_SD_S))
    frame, since = labelled_at(start + wrong, rate.key, set_utc)
    # The camera takes the nearest label for a frame that begins in between.
    frame += round(since * float(rate.rate_hz))
    labels = container_labels(
        "footage:bow", label_of(frame, rate), rate.rate_hz, 0.0, Span(start_s=0.0, stop_s=60.0)
    )
    setting = Setting(meaning="utc", set_utc_s=set_utc, sd_s=GENERATOR_SD_S)
    found = timecode_clues([labels], setting, CODE_DAY).clues
    if not found or found[0].hint:
        return [Outcome(error=math.nan)]
    scale = float(rate.rate_hz)
    error = found[0].offset_s - start
    return [Outcome(error=error * scale, delay=wrong * scale, sd=found[0].sd_s * scale)]


@cache
def programme() -> NDArray[np.float64]:
    """Two minutes of wind and an engine whose speed wanders; RMS 1."""
    rng, seconds = np.random.default_rng(20260914), 120.0
    n = int(seconds * RATE)
    knots = np.cumsum(rng.normal(0, 4, 40))
    hz = np.clip(90 + np.interp(np.arange(n), np.linspace(0, n, 40), knots), 40, 200)
    return unit(engine(hz, seconds, rng) + wind(seconds, rng))


def by_code(rng: np.random.Generator, _days: int) -> list[Outcome]:
    """Linear timecode 0 to 20 dB below wind and engine, on a clock up to 50 ppm out; errors in
    frames, at the two instants that it speaks of."""
    rate, seconds, begin = RATES[str(rng.choice(CODE_RATES))], 26.0, float(rng.uniform(0, 0.5))
    set_utc = NOON - 3600.0 * int(rng.integers(1, 8))
    wrong, drift = float(rng.normal(0, GENERATOR_SD_S)), float(rng.uniform(-50e-6, 50e-6))
    first, _ = labelled_at(float(rng.uniform(NOON, NOON + 7200)), rate.key, set_utc)
    text = label_of(first, rate)
    numbers = (int(text[0:2]), int(text[3:5]), int(text[6:8]), int(text[9:11]))
    frame_s = float(rate.frame_s) / (1 + drift)
    count = int((seconds - begin - 0.1) / frame_s)
    bits = bits_from(numbers, count, rate.counted, drop=rate.drop)
    place = int(rng.integers(0, programme().size - int(seconds * RATE)))
    sound = unit(wave(bits, frame_s, RATE, start_s=begin, seconds=seconds))
    sound = sound * 10 ** (-rng.uniform(0, 20) / 20) * rng.choice([-1, 1])
    sound = sound + programme()[place : place + sound.size]
    labels, _ = code_labels("footage:bow", find_code((0.1 * sound).astype(np.float32), RATE, 0.0))
    setting = Setting(meaning="utc", set_utc_s=set_utc, sd_s=GENERATOR_SD_S)
    found = timecode_clues(labels, setting, CODE_DAY).clues
    scale = float(rate.rate_hz)
    set_label = first - (set_utc - NOON + 43_200) // 3600 * rate.frames_in_a_day // 24
    begun = set_utc - wrong + float(seconds_of(int(set_label), rate))
    outcomes = []
    for clue in found:
        at = clue.at_s or 0.0
        truth = begun + (at - begin) * (1 + drift) - at
        outcomes.append(
            Outcome(
                error=(clue.offset_s - truth) * scale, delay=wrong * scale, sd=clue.sd_s * scale
            )
        )
    return outcomes[:1] if rng.uniform() < 0.5 else outcomes[1:2] or [Outcome(error=math.nan)]


def by_shared_sound(rng: np.random.Generator, _days: int) -> list[Outcome]:
    """Two recorders with winds of their own as loud as what both hear, their clocks up to 50 ppm
    apart, their microphones a little out of phase, half of them up to 8 m apart."""
    apart = float(rng.uniform(1, 8)) if rng.uniform() < 0.5 else 0.0
    way = apart / sound_speed(288.15) * float(rng.uniform(-1, 1))
    lengths = (float(rng.uniform(15, 40)), float(rng.uniform(20, 50)))
    pair = heard_twice(
        rng, lengths_s=lengths, rate=12000, drift=float(rng.uniform(-100e-6, 100e-6)),
        late_s=way + float(rng.normal(0, 20e-6)),
    )  # fmt: skip
    found = shared_sound_clues(
        "footage:bow", pair.one, "footage:stern", pair.other, apart_m=apart
    ).clues
    if not found:
        return [Outcome(error=math.nan)]
    clue = found[int(rng.integers(0, 2))]
    error = clue.offset_s - pair.offset_at(clue.at_s or 0.0)
    return [Outcome(error=error, delay=way, sd=clue.sd_s)]


def by_other_sound(rng: np.random.Generator, _days: int) -> list[Outcome]:
    """Sounds of two days on like boats: any clue is an error."""
    lengths = (float(rng.uniform(15, 40)), float(rng.uniform(20, 50)))
    pair = heard_twice(rng, lengths_s=lengths, rate=12000, noise_db=-10, same=False)
    found = shared_sound_clues("footage:bow", pair.one, "footage:stern", pair.other)
    assert found.remarks or found.clues, "a refusal says why"
    return [Outcome(error=1.0 if found.clues else math.nan)]


ROWS = (
    Row(name="motion", goal=0.15, unit="ms", scale=1e3, short=16,
        run=lambda rng, days: by_motion(rng, days, ("engine_speed",))),
    Row(name="turns", goal=0.15, unit="ms", scale=1e3, short=24, answers=0.3,
        run=lambda rng, days: by_motion(rng, days, ("turn_rate",))),
    Row(name="another day", goal=0.0, unit="", scale=1, short=12, refuses=True, run=another_day),
    Row(name="rate", goal=5e-6, unit="ppm", scale=1e6, short=200, run=by_marks),
    Row(name="loops", goal=math.inf, unit="sd", scale=1, short=60, run=closing),
    Row(name="carried", goal=math.inf, unit="ms", scale=1e3, short=60, run=carried),
    Row(name="timecode", goal=0.5, unit="frames", scale=1, short=200, run=by_timecode),
    Row(name="linear code", goal=0.5, unit="frames", scale=1, short=4, run=by_code),
    Row(name="shared sound", goal=0.002, unit="ms", scale=1e3, short=4, run=by_shared_sound),
    Row(name="other sound", goal=0.0, unit="", scale=1, short=3, refuses=True,
        run=by_other_sound),
    Row(name="clap", goal=0.005, unit="ms", scale=1e3, short=60, sure=False, run=by_clap),
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Result:
    row: Row
    trials: int
    outcomes: list[Outcome]
    seconds: float

    @property
    def answers(self) -> list[Outcome]:
        return [one for one in self.outcomes if math.isfinite(one.error)]

    @property
    def p95(self) -> float:
        """What 95 % of the errors stay under, the delays' part taken out."""
        rest = [abs(one.error - one.delay) for one in self.answers]
        return float(np.percentile(rest, 95)) if rest else math.nan

    @property
    def held(self) -> float:
        """Share of 95 % intervals, delays and all, that hold the truth."""
        inside = [abs(one.error) <= 1.96 * one.sd for one in self.answers]
        return float(np.mean(inside)) if inside else math.nan

    @property
    def good(self) -> bool:
        share = len(self.answers) / len(self.outcomes)
        if self.row.refuses:
            return share == 0
        count = len(self.answers)
        # Few trials cannot tell 88 % from 90 %: the bounds give way by 2.6 deviations of chance.
        chance = 0.0 if self.trials >= TRIALS else 2.6 / math.sqrt(self.trials)
        least = self.row.answers
        if share < least - chance * math.sqrt(least * (1 - least)) or not self.p95 <= self.row.goal:
            return False
        give = 0.0 if count >= TRIALS else 2.6 * math.sqrt(0.9 * 0.1 / count)
        most = 0.99 if count >= TRIALS else 1.0
        return not self.row.sure or 0.9 - give <= self.held <= most


def run_row(row: Row, trials: int, days: int) -> Result:
    began = time.perf_counter()
    outcomes = []
    for trial in range(trials):
        rng = np.random.default_rng([trial, *row.name.encode()])
        outcomes += row.run(rng, days)
    return Result(row=row, trials=trials, outcomes=outcomes, seconds=time.perf_counter() - began)


def line(result: Result) -> str:
    row, answers = result.row, result.answers
    told = f"{row.name:13}{result.trials:7}{len(answers):6} of {len(result.outcomes):<5}"
    if row.refuses:
        return f"{told}{'all refused' if not answers else 'NOT ALL REFUSED':>28}"
    rest = [(one.error - one.delay) * row.scale for one in answers] or [math.nan]
    delay = [one.delay * row.scale for one in answers] or [math.nan]
    goal = f"{row.goal * row.scale:.3g} {row.unit}" if math.isfinite(row.goal) else "-"
    return (
        f"{told}{np.mean(rest):9.2f}{result.p95 * row.scale:9.2f}{goal:>10}"
        f"{np.percentile(np.abs(delay), 95):9.1f}{result.held:8.1%}{result.seconds:8.1f}"
        f"   {'holds' if result.good else 'misses'}"
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--short", action="store_true", help="few trials, under 50 s in all")
    parser.add_argument("--only", metavar="ROW", choices=[row.name for row in ROWS])
    parser.add_argument("--trials", type=int, metavar="N")
    given = parser.parse_args()
    days = SHORT_DAYS if given.short else DAYS
    print(
        f"{'row':13}{'trials':>7}{'answers':>12}{'mean':>11}{'95 %':>9}{'goal':>10}"
        f"{'delay':>9}{'held':>8}{'s':>8}"
    )
    results = []
    for row in ROWS:
        if given.only in (None, row.name):
            trials = given.trials or (row.short if given.short else TRIALS)
            results.append(run_row(row, trials, days))
            print(line(results[-1]), flush=True)
    missed = [result.row.name for result in results if not result.good]
    print(f"misses: {', '.join(missed)}" if missed else "every row holds")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
