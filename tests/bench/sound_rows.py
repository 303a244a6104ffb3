"""Sound that two recordings heard, or did not; and claps, by `clap_rows`."""

from __future__ import annotations

import math

import clap_rows
import numpy as np
from heard_twice import heard_twice
from numpy.typing import NDArray
from sounds import engine, wind
from study import Outcome, Row

from sync.clues.clap import sound_speed
from sync.clues.shared_sound import shared_sound_clues
from sync.clues.sound.places import Heard


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


def by_like_launches(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Two cameras on one day, each of which filmed another launch of the same boat: engine speeds
    rise alike, from and to the same, and any clue is an error."""
    seconds = float(rng.uniform(25, 45))
    rise_s, low, high = float(rng.uniform(4, 8)), float(rng.uniform(25, 40)), rng.uniform(140, 190)
    recorded = [_launch(rng, seconds, rise_s, low, float(high)) for _ in range(2)]
    one, other = (Heard(samples=x, rate_hz=12000, start_s=0.0) for x in recorded)
    found = shared_sound_clues("footage:bow", one, "footage:stern", other)
    assert found.remarks or found.clues, "a refusal says why"
    return [Outcome(error=1.0 if found.clues else math.nan)]


def _launch(
    rng: np.random.Generator, seconds: float, rise_s: float, low: float, high: float
) -> NDArray[np.float32]:
    """Idle, a rise, and a steady speed that wanders by half a per cent; wind 6 dB below."""
    n = int(seconds * 12000)
    t = np.arange(n) / 12000
    shape = np.clip((t - rng.uniform(8, 12)) / (rise_s * (1 + rng.normal(0, 0.03))), 0, 1)
    knots = int(seconds) + 2
    wander = np.interp(t, np.arange(knots), 0.005 * rng.standard_normal(knots))
    hz = (low + (high - low) * shape) * (1 + wander + float(rng.normal(0, 0.003)))
    own = wind(seconds, rng, rate=12000)
    return (0.1 * (engine(hz, seconds, rng, 12000) + 0.5 * own)).astype(np.float32)


ROWS = (
    *clap_rows.ROWS,
    Row(name="shared sound", goal=0.002, unit="ms", scale=1e3, short=3, run=by_shared_sound),
    Row(name="sound, other day", goal=0.0, unit="", scale=1, short=1, refuses=True,
        run=by_other_sound),
    Row(name="sound, look-alike", goal=0.0, unit="", scale=1, short=1, refuses=True,
        run=by_like_launches),
)  # fmt: skip
