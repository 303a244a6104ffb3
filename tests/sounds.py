"""Sound with known truth: claps, wind and engines, made from a seed."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft

RATE = 48000
Array = NDArray[np.float64]


def clap(rng: np.random.Generator, *, rate: int = RATE, decay_s: float = 0.006) -> Array:
    """A burst of noise that begins at once and dies away, with an RMS of 1 over 30 ms."""
    t = np.arange(int(0.06 * rate)) / rate
    burst = rng.standard_normal(t.size) * np.exp(-t / decay_s)
    return burst / np.sqrt(np.mean(burst[: int(0.03 * rate)] ** 2))


def wind(seconds: float, rng: np.random.Generator, *, rate: int = RATE) -> Array:
    """Noise that falls off above 150 Hz, its level swelling slowly; RMS 1."""
    n = int(seconds * rate)
    whole = next_fast_len(n, real=True)  # a prime number of samples would take ten times as long
    frequency = np.fft.rfftfreq(whole, 1 / rate)
    spectrum = rfft(rng.standard_normal(whole)) / (1 + (frequency / 150) ** 1.2)
    swell = 1 + 0.4 * np.sin(2 * np.pi * 0.3 * np.arange(n) / rate + rng.uniform(0, 6))
    return unit(irfft(spectrum, whole)[:n] * swell)


def engine(hz: float | Array, seconds: float, rng: np.random.Generator, rate: int = RATE) -> Array:
    """Firing frequency (fixed, or one a sample) and 24 orders of it, with hiss; RMS 1."""
    n = int(seconds * rate)
    phase = 2 * np.pi * np.cumsum(np.broadcast_to(np.asarray(hz, float), (n,))) / rate
    tone = orders(phase, [np.exp(1j * rng.uniform(0, 6)) / k for k in range(1, 25)])
    return unit(unit(tone) + 0.15 * rng.standard_normal(n))


def orders(phase: Array, weights: Sequence[complex]) -> Array:
    """Tones of once, twice, three times a phase, each with its weight: Σ Im(wₖ eⁱᵏᵠ), by Horner's
    rule, which takes one sine and one cosine for all of them."""
    turn = np.exp(1j * phase)
    total = np.zeros_like(turn)
    for weight in reversed(weights):
        total += weight
        total *= turn
    return total.imag


def unit(x: Array) -> Array:
    return x / np.sqrt(np.mean(x**2))


def under_way(seconds: float, rng: np.random.Generator, rate: int = RATE) -> Array:
    """Wind and engine as a microphone on a boat hears them; RMS 1."""
    return unit(wind(seconds, rng, rate=rate) + engine(80.0, seconds, rng, rate))


@cache
def _bank(seconds: float, rate: int) -> Array:
    return under_way(seconds, np.random.default_rng(20260611), rate)


def some_under_way(seconds: float, rng: np.random.Generator, rate: int = RATE) -> Array:
    """A stretch of wind and engine, cut at random from a minute that is made once."""
    bank = _bank(60.0, rate)
    first = int(rng.integers(0, bank.size - int(seconds * rate)))
    return unit(bank[first : first + int(seconds * rate)])


def with_claps(
    noise: Array, at_s: Sequence[float], level_db: float | Sequence[float],
    rng: np.random.Generator, rate: int = RATE,
) -> NDArray[np.float32]:  # fmt: skip
    """Noise with claps beginning at given times, each at a level over the noise's RMS of 1."""
    out = noise.copy()
    for t, level in zip(at_s, np.broadcast_to(level_db, (len(at_s),)), strict=True):
        burst = clap(rng, rate=rate) * 10 ** (float(level) / 20)
        place = round(t * rate)
        out[place : place + burst.size] += burst
    return (0.1 * out).astype(np.float32)
