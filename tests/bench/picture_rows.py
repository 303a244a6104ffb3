"""What is seen: a drawn world, filmed at a small size from a boat in a short sea.

Films have compression, noise, glitter and spray, and cameras look anywhere aboard. Each camera's
shutter and how it rolls down the picture are drawn at random, and nobody tells the clues.

The lamp is a torch or a signal lamp, clipped with a halo, lit by a switch that marks the log:
half are held up to the camera in a hand, half stand on deck some metres off. Films have 24 to
60 frames a second, and a third of them a rate that varies, as a telephone's does. A lamp that
flashes for less than a frame, such as a gas-discharge strobe, is none of these: a daylight
shutter is shut for most of the time, and misses it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from lamp_world import Lamp, filmed_lamp
from picture_world import WIDE, Attitude, Floats, Lens, Shutter, World, at_sea
from study import Outcome, Row

from sync.channel import Channel
from sync.clock import UTC, Span
from sync.clue import Clue
from sync.clues.lamp import Watch, lamp_clues
from sync.clues.picture.flashes import Flash, find_flashes
from sync.clues.picture.turning import Turning, turning_of
from sync.clues.picture_motion import picture_motion_clues
from sync.log import Mark

RATE_HZ = 25.0
FRAME_S = 1 / RATE_HZ
RATES_HZ = (24000 / 1001, 25.0, 30000 / 1001, 50.0, 60000 / 1001)
LAMP_S, MOTION_S = 12.0, 20.0
LOG_S = 1800.0
DELAY_S, DELAY_SD_S = 0.04, 0.02
AGAINST = 5
"""Logs against which one film is held where it must be refused, so that each is drawn once."""


@dataclass(frozen=True, kw_only=True)
class LampFilm:
    """What was found in a film, when its lamp was lit in truth, and its frames' usual time."""

    flashes: tuple[Flash, ...]
    lit: Floats
    frame_s: float


def crew_lamp(rng: np.random.Generator, lens: Lens, lit: Floats) -> Lamp:
    """A lamp of 3 to 8 cm, 0.4 to 1.5 m from the camera in a hand, or on deck at 1.5 to 5 m."""
    held = bool(rng.uniform() < 0.5)
    away = float(rng.uniform(0.4, 1.5) if held else rng.uniform(1.5, 5.0))
    radius_px = float(rng.uniform(0.015, 0.04)) / away * lens.focal * WIDE
    return Lamp(
        across=float(rng.uniform(0.2, 0.8) if held else rng.uniform(0.1, 0.9)),
        down=float(rng.uniform(0.2, 0.8) if held else rng.uniform(0.5, 0.9)),
        share=min(math.pi * radius_px**2 / (WIDE * WIDE * 9 / 16), 0.08),
        bright=float(rng.uniform(235, 255)),
        halo=float(rng.uniform(0.15, 0.5)),
        sway=float(rng.uniform(0.003, 0.02)) if held else 0.0,
        lit=tuple((float(on), float(on + rng.uniform(0.1, 0.8))) for on in lit),
    )


def any_shutter(rng: np.random.Generator, frame_s: float) -> Shutter:
    """Daylight to dusk; rolled down the picture in no time, or in most of a frame's."""
    return Shutter(
        open_s=float(rng.uniform(0.001, 0.6)) * frame_s,
        readout_s=float(rng.uniform(0, 0.85)) * frame_s,
    )


def any_lens(rng: np.random.Generator, **more: float) -> Lens:
    """A camera that looks anywhere aboard, at ordinary light and compression."""
    ways = [0.0, math.pi, math.pi / 2, -math.pi / 2, float(rng.uniform(0, 2 * math.pi))]
    return Lens(
        bearing=float(rng.choice(ways)),
        down=float(rng.uniform(0.03, 0.15)),
        focal=float(rng.uniform(0.5, 1.0)),
        quality=int(rng.integers(55, 90)),
        deck=bool(rng.uniform() < 0.7),
        **more,
    )


def stamps(rng: np.random.Generator, length_s: float) -> Floats:
    """When the frames of a film are taken: evenly, or in every third film not."""
    frame_s = 1 / float(rng.choice(RATES_HZ))
    even = np.arange(0, length_s, frame_s)
    uneven = np.cumsum(rng.choice([1.0, 1.0, 1.0, 1.0, 2.0], even.size)
                       * rng.uniform(0.9, 1.1, even.size)) * frame_s  # fmt: skip
    times = uneven[uneven < length_s] if rng.uniform() < 1 / 3 else even
    return np.asarray(times + rng.uniform(0, frame_s))


def lamp_film(rng: np.random.Generator, *, even: bool = False) -> LampFilm:
    """A film with four to six flashes of a lamp, in spray and glitter of an ordinary day."""
    count = int(rng.integers(4, 7))
    pauses = np.full(count, rng.uniform(0.9, 1.9)) if even else rng.uniform(0.9, 1.9, count)
    lit = np.cumsum(pauses) + rng.uniform(0, 0.4)
    times = stamps(rng, LAMP_S)
    lens = any_lens(
        rng,
        spray=float(rng.uniform(0, 1.5)),
        burst=0.3,
        glitter=float(rng.uniform(0, 60) if rng.uniform() < 0.5 else rng.uniform(0, 8)),
    )
    lamp = crew_lamp(rng, lens, lit)
    shutter = any_shutter(rng, float(np.median(np.diff(times))))
    seed = int(rng.integers(1 << 30))
    frames = filmed_lamp(World(seed), at_sea(seed, 60.0), lens, lamp, shutter, times)
    frame_s = float(np.median(np.diff(times)))
    return LampFilm(flashes=find_flashes(frames), lit=lit, frame_s=frame_s)


def lamp_against(
    film: LampFilm, marks_s: Floats, offset: float, rng: np.random.Generator, off_s: float = 10.0
) -> tuple[Clue, ...]:
    """The clues that are no hints, within a stamp of half a minute that is off by so much."""
    marks = [
        Mark(label="lamp", clock=UTC, t_s=offset + t + rng.normal(0, 1e-3), sd_s=1e-3)
        for t in marks_s.tolist()
    ]
    stamp = Clue(
        kind="stamps", from_clock="footage:bow", to_clock=UTC, sd_s=10.0, hint=True,
        offset_s=offset + float(rng.normal(0, off_s)),
    )  # fmt: skip
    watch = Watch(clock="footage:bow", span=Span(start_s=0.0, stop_s=LAMP_S))
    found = lamp_clues(watch, film.flashes, marks, [stamp])
    assert found.clues or found.remarks, "a refusal says why"
    return tuple(clue for clue in found.clues if not clue.hint)


def by_lamp(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """The offset that four to six flashes give, in frames of the film."""
    film = lamp_film(rng)
    offset = float(rng.uniform(1.7e9, 1.8e9))
    clues = lamp_against(film, film.lit, offset, rng)
    if not clues:
        return [Outcome(error=math.nan)]
    error = clues[0].offset_s - offset
    return [Outcome(error=error / film.frame_s, sd=clues[0].sd_s / film.frame_s)]


def film(rng: np.random.Generator, sea: Attitude, start_s: float) -> Turning:
    """The turning of twenty seconds filmed aboard, stamped as the shutter opens."""
    lens = any_lens(rng, spray=float(rng.uniform(0, 3)), burst=0.3)
    shown = np.arange(0, MOTION_S, FRAME_S)
    shutter = any_shutter(rng, FRAME_S)
    world = World(int(rng.integers(1 << 30)))
    return turning_of(world.film(sea, lens, start_s + shown, shown, shutter))


def attitude_log(
    rng: np.random.Generator, sea: Attitude, offset_s: float
) -> tuple[list[Channel], float]:
    """Rate of turn, pitch and roll ten times a second, noisy, with a hole; and how late."""
    late = float(rng.normal(DELAY_S, DELAY_SD_S))
    t = np.arange(0, float(sea.t_s[-1]) - 1, 0.1)
    hole = float(rng.uniform(0, t[-1]))
    t = t[(t < hole) | (t > hole + 5)]
    rate = np.gradient(sea.yaw, sea.t_s)
    made = {
        "turn_rate": np.interp(t - late, sea.t_s, rate) + rng.normal(0, 0.005, t.size),
        "pitch": np.round(sea.at("pitch", t - late) + rng.normal(0, 5e-4, t.size), 4),
        "roll": np.round(sea.at("roll", t - late) + rng.normal(0, 5e-4, t.size), 4),
    }
    return [
        Channel(name=name, t_s=t - offset_s, values=values, clock="log:attitude",
                delay_s=DELAY_S, delay_sd_s=DELAY_SD_S)
        for name, values in made.items()
    ], late  # fmt: skip


def by_motion(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Twenty seconds from a camera aboard against half an hour of a log's turning."""
    sea = at_sea(int(rng.integers(1 << 30)), LOG_S)
    start, offset = float(rng.uniform(30, LOG_S - 60)), float(rng.uniform(-1e4, 1e4))
    channels, late = attitude_log(rng, sea, offset)
    found = picture_motion_clues(
        clock="footage:bow", turning=film(rng, sea, start), channels=channels
    )
    if not found.clues:
        return [Outcome(error=math.nan)]
    clue = found.clues[0]
    # A log that is later than is known puts the footage later on its clock by as much.
    error = clue.offset_s - (start - offset)
    return [Outcome(error=error, delay=late - DELAY_S, sd=clue.sd_s)]


def other_day(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Films held against logs and marks of other days: any clue is an error."""
    seen = film(rng, at_sea(int(rng.integers(1 << 30)), 60.0), 20.0)
    lamp = lamp_film(rng)
    outcomes = []
    for _ in range(AGAINST):
        log, _ = attitude_log(rng, at_sea(int(rng.integers(1 << 30)), LOG_S), 0.0)
        found = picture_motion_clues(clock="footage:bow", turning=seen, channels=log)
        assert found.clues or found.remarks, "a refusal says why"
        marks: Floats = np.sort(rng.uniform(0, LAMP_S, int(rng.integers(2, 7))))
        wrong = (*found.clues, *lamp_against(lamp, marks, 0.0, rng))
        outcomes.append(Outcome(error=1.0 if wrong else math.nan))
    return outcomes


def twice(rng: np.random.Generator, sea: Attitude) -> Attitude:
    """A day of which one stretch of motion comes twice, with other motion around it."""
    other = at_sea(int(rng.integers(1 << 30)), 600.0)
    first, second = float(rng.uniform(30, 150)), float(rng.uniform(250, 500))
    made = {}
    for name in ("yaw", "pitch", "roll", "speed"):
        values = getattr(other, name).copy()
        for start in (first, second):
            at = int(np.searchsorted(other.t_s, start))
            values[at : at + sea.t_s.size] = getattr(sea, name)
            if name == "yaw":  # what she has turned by then, she has turned from there on
                ends = at + sea.t_s.size
                values[at:ends] += getattr(other, name)[at] - sea.yaw[0]
                values[ends:] += values[ends - 1] - values[ends]
        made[name] = values
    return Attitude(t_s=other.t_s, **made)


def shown_twice(rng: np.random.Generator, lit: Floats, *, even: bool) -> Floats:
    """Marks that the lamp's flashes fit in two ways, both within reach of the stamp.

    What is lit as evenly as a clock was lit so before the film began, and after it ended.
    """
    if even:
        return np.asarray(lit[0] + (lit[1] - lit[0]) * np.arange(-10, 14))
    apart = LAMP_S + float(rng.uniform(0.5, 6.0))
    return np.concatenate([lit, lit + (apart if rng.uniform() < 0.5 else -apart)])


def look_alike(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Films of what came twice on their day: there is no telling which it was."""
    sea = at_sea(int(rng.integers(1 << 30)), 60.0)
    seen = film(rng, sea, float(rng.uniform(5, 35)))
    even = bool(rng.uniform() < 0.5)
    lamp = lamp_film(rng, even=even)
    outcomes = []
    for _ in range(AGAINST):
        log, _ = attitude_log(rng, twice(rng, sea), 0.0)
        found = picture_motion_clues(clock="footage:bow", turning=seen, channels=log)
        assert found.clues or found.remarks, "a refusal says why"
        marks = shown_twice(rng, lamp.lit, even=even)
        wrong = (*found.clues, *lamp_against(lamp, marks, 0.0, rng, off_s=2.0))
        outcomes.append(Outcome(error=1.0 if wrong else math.nan))
    return outcomes


# A quarter of the lamps go without an answer; those looked into filled less than 0.02 % of it.
ROWS = (
    Row(name="lamp", goal=1.0, unit="frames", scale=1.0, short=5, answers=0.7, run=by_lamp),
    Row(name="picture motion", goal=1.5 * FRAME_S, unit="ms", scale=1e3, short=3, trials=60,
        answers=0.6, run=by_motion),
    Row(name="picture, other day", goal=0.0, unit="", scale=1, short=1, trials=40, refuses=True,
        run=other_day),
    Row(name="picture, look-alike", goal=0.0, unit="", scale=1, short=1, trials=40, refuses=True,
        run=look_alike),
)  # fmt: skip
