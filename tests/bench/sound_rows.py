"""Claps, knocks in a log, and sound that two recordings heard."""

from __future__ import annotations

import math

import numpy as np
from heard_twice import heard_twice
from sounds import RATE, some_under_way, with_claps
from study import Outcome, Row

from sync.clock import UTC, Span
from sync.clues import (
    Clue,
    Scene,
    clap_clues,
    find_impulses,
)
from sync.clues.clap import sound_speed
from sync.clues.shared_sound import shared_sound_clues
from sync.log import Mark


def by_clap(rng: np.random.Generator, _short: bool) -> list[Outcome]:
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


def by_shared_sound(rng: np.random.Generator, _short: bool) -> list[Outcome]:
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


def by_other_sound(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Sounds of two days on like boats: any clue is an error."""
    lengths = (float(rng.uniform(15, 40)), float(rng.uniform(20, 50)))
    pair = heard_twice(rng, lengths_s=lengths, rate=12000, noise_db=-10, same=False)
    found = shared_sound_clues("footage:bow", pair.one, "footage:stern", pair.other)
    assert found.remarks or found.clues, "a refusal says why"
    return [Outcome(error=1.0 if found.clues else math.nan)]


ROWS = (
    Row(name="clap", goal=0.005, unit="ms", scale=1e3, short=60, run=by_clap),
    Row(name="shared sound", goal=0.002, unit="ms", scale=1e3, short=4, run=by_shared_sound),
    Row(name="sound, other day", goal=0.0, unit="", scale=1, short=3, refuses=True,
        run=by_other_sound),
)  # fmt: skip
