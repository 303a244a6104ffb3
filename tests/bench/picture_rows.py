"""What is seen: a drawn world, filmed at a small size from a boat in a short sea.

Films have compression, noise, glitter and spray, and cameras look anywhere aboard. Each camera's
shutter, its readout and how its stamps lie to its pictures are drawn at random, and nobody tells
the clues.
"""

from __future__ import annotations

import math

import numpy as np
from picture_world import Attitude, Floats, Lamp, Lens, Shutter, World, at_sea, filmed_lamp
from study import Outcome, Row

from sync.clock import UTC, Span
from sync.clues.base import Clue
from sync.clues.lamp import Watch, lamp_clues
from sync.clues.picture.flashes import Flash, find_flashes
from sync.clues.picture.turning import Turning, turning_of
from sync.clues.picture_motion import picture_motion_clues
from sync.log import Channel, Mark

RATE_HZ = 25.0
FRAME_S = 1 / RATE_HZ
LAMP_S, MOTION_S = 12.0, 20.0
LOG_S = 1800.0
DELAY_S, DELAY_SD_S = 0.04, 0.02
OTHER_DAYS = 10
"""Days against which one film is held, so that each is drawn once."""


def lamp_film(rng: np.random.Generator) -> tuple[tuple[Flash, ...], list[float]]:
    """What was found in a film with four to six flashes of a lamp, and when they were lit."""
    seed = int(rng.integers(1 << 30))
    count = int(rng.integers(4, 7))
    lit = np.cumsum(rng.uniform(0.7, 1.8, count)) + rng.uniform(0, 0.5)
    lamp = Lamp(
        across=float(rng.uniform(0.1, 0.9)),
        down=float(rng.uniform(0.45, 0.85)),
        share=float(10 ** rng.uniform(-3, -2)),
        bright=float(rng.uniform(215, 235)),
        lit=tuple((float(on), float(on + rng.uniform(0.12, 0.6))) for on in lit),
    )
    shutter = Shutter(
        open_s=float(rng.uniform(0.001, 0.6)) * FRAME_S,
        readout_s=float(rng.uniform(0, 0.85)) * FRAME_S,
    )
    lens = Lens(
        bearing=float(rng.uniform(0, 6.28)), spray=float(rng.uniform(0, 0.3)),
        quality=int(rng.integers(55, 90)),
    )  # fmt: skip
    times = np.arange(0, LAMP_S, FRAME_S) + rng.uniform(0, FRAME_S)
    frames = filmed_lamp(World(seed), at_sea(seed, 60.0), lens, lamp, shutter, times)
    return find_flashes(frames), lit.tolist()


def lamp_against(
    flashes: tuple[Flash, ...], lit: list[float], offset: float, rng: np.random.Generator
) -> tuple[Clue, ...]:
    """The clues that are no hints, within a stamp of half a minute."""
    marks = [
        Mark(label="lamp", clock=UTC, t_s=offset + t + rng.normal(0, 1e-3), sd_s=1e-3) for t in lit
    ]
    stamp = Clue(
        kind="stamps", from_clock="footage:bow", to_clock=UTC, sd_s=10.0, hint=True,
        offset_s=offset + float(rng.normal(0, 10)),
    )  # fmt: skip
    watch = Watch(clock="footage:bow", span=Span(start_s=0.0, stop_s=LAMP_S))
    found = lamp_clues(watch, flashes, marks, [stamp])
    assert found.clues or found.remarks, "a refusal says why"
    return tuple(clue for clue in found.clues if not clue.hint)


def by_lamp(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """The offset that four to six flashes give, of a lamp down to 0.1 % of the picture."""
    flashes, lit = lamp_film(rng)
    offset = float(rng.uniform(1.7e9, 1.8e9))
    clues = lamp_against(flashes, lit, offset, rng)
    if not clues:
        return [Outcome(error=math.nan)]
    return [Outcome(error=clues[0].offset_s - offset, sd=clues[0].sd_s)]


def film(rng: np.random.Generator, sea: Attitude, start_s: float) -> Turning:
    """The turning of twenty seconds filmed aboard, stamped about the middle of the exposure."""
    lens = Lens(
        bearing=float(rng.choice([0.0, math.pi, math.pi / 2, -math.pi / 2, rng.uniform(0, 6.28)])),
        down=float(rng.uniform(0.03, 0.15)),
        focal=float(rng.uniform(0.5, 1.0)),
        spray=float(rng.uniform(0, 3)),
        quality=int(rng.integers(55, 90)),
        deck=bool(rng.uniform() < 0.7),
    )
    shown = np.arange(0, MOTION_S, FRAME_S)
    late = float(rng.normal(0, FRAME_S / math.sqrt(12)))
    frames = World(int(rng.integers(1 << 30))).film(sea, lens, start_s + shown + late, shown)
    return turning_of(frames)


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
    flashes, _ = lamp_film(rng)
    outcomes = []
    for _ in range(OTHER_DAYS):
        log, _ = attitude_log(rng, at_sea(int(rng.integers(1 << 30)), LOG_S), 0.0)
        found = picture_motion_clues(clock="footage:bow", turning=seen, channels=log)
        assert found.clues or found.remarks, "a refusal says why"
        marks: Floats = np.sort(rng.uniform(0, LAMP_S, int(rng.integers(2, 7))))
        wrong = (*found.clues, *lamp_against(flashes, marks.tolist(), 0.0, rng))
        outcomes.append(Outcome(error=1.0 if wrong else math.nan))
    return outcomes


ROWS = (
    Row(name="lamp", goal=FRAME_S, unit="ms", scale=1e3, short=5, answers=0.8, run=by_lamp),
    Row(name="picture motion", goal=1.5 * FRAME_S, unit="ms", scale=1e3, short=3, trials=60,
        answers=0.6,
        run=by_motion),
    Row(name="picture, other day", goal=0.0, unit="", scale=1, short=1, trials=20, refuses=True,
        run=other_day),
)  # fmt: skip
