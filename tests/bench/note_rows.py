"""The engine's note: a minute of footage with one launch in it against two hours of log."""

from __future__ import annotations

import math

import numpy as np
from engine_days import (
    LOG_START_S,
    SOUND_MPS,
    heard,
    heard_afar,
    logged,
    passing,
    some_day,
    speed_of,
)
from engine_days import RATE as SOUND_RATE
from study import Outcome, Row

from sync.clues import Finding, engine_note_clues
from sync.log import Channel

DAY_S, FILM_S = 7200.0, 60.0


def listen(samples: np.ndarray, channel: Channel, *, afar: bool = False) -> Finding:
    """What the clue says, told of the engine what a sheet states."""
    found = engine_note_clues(
        clock="footage:bow", samples=samples, rate_hz=SOUND_RATE, start_s=0.0, channel=channel,
        cylinders=4, strokes=4, afar=afar,
    )  # fmt: skip
    assert found.clues or found.remarks, "a refusal says why"
    return found


def by_note(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """An engine aboard, 6 dB below the wind."""
    launches = some_day(rng, DAY_S)
    rpm = speed_of(launches, DAY_S, rng)
    first = launches[int(rng.integers(1, len(launches) - 1))].t_s - rng.uniform(5, 25)
    found = listen(heard(rpm, first, FILM_S, rng), logged(rpm, rng)).clues
    if not found:
        return [Outcome(error=math.nan)]
    return [Outcome(error=found[0].offset_s - LOG_START_S - first, sd=found[0].sd_s)]


def by_note_afar(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """The same from a boat 20 to 100 m off, which knows its distance at the launch."""
    launches = some_day(rng, DAY_S)
    rpm = speed_of(launches, DAY_S, rng)
    launch = launches[int(rng.integers(1, len(launches) - 1))]
    first = launch.t_s - rng.uniform(5, 12)
    distance = passing(rng, launch.t_s)
    found = listen(heard_afar(rpm, first, FILM_S, rng, distance), logged(rpm, rng), afar=True).clues
    if not found:
        return [Outcome(error=math.nan)]
    clue = found[0]
    way_s = float(distance(np.array([first + (clue.at_s or 0.0)]))[0]) / SOUND_MPS
    return [Outcome(error=clue.offset_s + way_s - LOG_START_S - first, sd=clue.sd_s)]


ROWS = (
    Row(name="note", goal=0.04, unit="ms", scale=1e3, short=4, answers=0.8, run=by_note),
    Row(name="note afar", goal=0.08, unit="ms", scale=1e3, short=3, answers=0.6,
        run=by_note_afar),
)  # fmt: skip
