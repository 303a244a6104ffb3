"""Claps as crews make them, on days that are windy: sound with known truth.

Hands, slates and oars do not all begin at once: the attack of a clap lasts from a tenth of a
millisecond to some, and is much the same each time that one pair of hands claps; its colour and
its decay differ as well. Under it lie wind with gusts, an engine, and bangs that are none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from sounds import RATE, Array, engine, unit, wind


@dataclass(frozen=True, kw_only=True)
class Hands:
    """What strikes: how long its attack and its decay last, and where its sound is strongest.

    One in three touches with its palms before it strikes, so long ahead and so much fainter, as
    one of the recorded claps does that the tests fetch.
    """

    attack_s: float
    ahead_s: float
    ahead_db: float
    decay_s: float
    hz: float

    @classmethod
    def some(cls, rng: np.random.Generator) -> Hands:
        """Attacks from a tenth of a millisecond to six, each octave as likely as the next."""
        return cls(
            attack_s=float(10 ** rng.uniform(-4, -2.2)),
            ahead_s=float(rng.uniform(0.001, 0.004)) if rng.uniform() < 1 / 3 else 0.0,
            ahead_db=float(rng.uniform(-16, -8)),
            decay_s=float(rng.uniform(0.004, 0.015)),
            hz=float(rng.uniform(1200, 4000)),
        )


def struck(hands: Hands, rng: np.random.Generator, rate: int = RATE) -> Array:
    """A clap from the instant of contact on, with an RMS of 1 over 30 ms; each a little other."""
    n = int(0.09 * rate)
    t = np.arange(n) / rate
    attack = hands.attack_s * float(rng.uniform(0.8, 1.25))

    def blow(at_s: float) -> Array:
        since = np.maximum(t - at_s, 0.0)
        return np.minimum(1, since / attack) * np.exp(
            -np.maximum(since - attack, 0) / hands.decay_s
        )

    ahead = hands.ahead_s * float(rng.uniform(0.8, 1.25))
    shape = blow(ahead)
    if ahead > 0:
        shape = np.maximum(shape, 10 ** (hands.ahead_db / 20) * blow(0.0))
    # Colour is given to twice the noise before it is cut, so that nothing rings before contact.
    hz = np.fft.rfftfreq(2 * n, 1 / rate)
    bell = 1 / (1 + (np.log2(np.maximum(hz, 1.0) / hands.hz) / 1.2) ** 2)
    burst = np.fft.irfft(np.fft.rfft(rng.standard_normal(2 * n)) * bell, 2 * n)[n // 2 :][:n]
    burst = burst * shape
    return np.asarray(burst / np.sqrt(np.mean(burst[: int(0.03 * rate)] ** 2)))


def gusty(seconds: float, rng: np.random.Generator, rate: int = RATE) -> Array:
    """Wind whose gusts double it for some seconds, and an engine that wanders; RMS 1."""
    n = int(seconds * rate)
    knots = int(seconds / 2) + 3
    at = np.linspace(0, n, knots)
    gusts = np.interp(np.arange(n), at, 2.0 ** rng.uniform(-1, 1, knots))
    hz = np.interp(np.arange(n), at, rng.uniform(40, 140) + np.cumsum(rng.normal(0, 2, knots)))
    share = float(rng.uniform(0.3, 1.5))
    noise = unit(wind(seconds, rng, rate=rate) * gusts)
    return unit(noise + share * engine(np.clip(hz, 20, 200), seconds, rng, rate))


def laid(
    noise: Array, at_s: Sequence[float], level_db: float, hands: Hands, rng: np.random.Generator,
    rate: int = RATE,
) -> Array:  # fmt: skip
    """Noise with claps of one pair of hands, to a fraction of a sample, at a level over RMS 1."""
    out = noise.copy()
    for t in at_s:
        burst = struck(hands, rng, rate) * 10 ** (level_db / 20)
        whole = int(np.floor(t * rate))
        late = np.fft.rfft(np.r_[burst, np.zeros(burst.size)])
        part = t * rate - whole
        late = late * np.exp(-2j * np.pi * np.arange(late.size) / (2 * burst.size) * part)
        burst = np.fft.irfft(late, 2 * burst.size)
        room = out[max(whole, 0) : whole + burst.size]
        room += burst[: room.size] if whole >= 0 else 0.0
    return out


def bangs(noise: Array, rng: np.random.Generator, count: int, rate: int = RATE) -> Array:
    """Noise with hatches, tools and spray: anywhere, of any level and hands of their own."""
    seconds = noise.size / rate
    out = noise
    for _ in range(count):
        at, level = float(rng.uniform(0.2, seconds - 0.3)), float(rng.uniform(-6, 9))
        out = laid(out, [at], level, Hands.some(rng), rng, rate)
    return out


def as_heard(sound: Array) -> NDArray[np.float32]:
    """As a decoder gives it."""
    return (0.1 * sound).astype(np.float32)
