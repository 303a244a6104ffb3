"""Linear timecode as a waveform: its bit clock, and how likely each bit is a one.

The waveform changes sign at the start of every bit and once more in the middle of a one
(biphase mark), so either polarity reads the same. A filter makes a pulse of every change of
sign and takes off what lies below and above; wind and engines, which fall off with frequency
about as the slope rises, come out of it nearly white:

::

    z = x ∗ d/dt (g₂ − g₁),      g(t) = f √π exp(−(π f t)²),   f₁ = 600 Hz, f₂ = 3 kHz

The square of z has a line at the bit rate, strong because each bit starts with a change of
sign; its phase says where bits start. What is read there and midway makes every bit's odds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sync.arrays import Floats
from sync.clues.ltc.word import BITS, SYNC

Wave = NDArray[np.float32]

LOW_HZ, HIGH_HZ = 600.0, 3000.0
KERNEL_S = 0.0015
LEAST_RATE_HZ = 16_000.0
"""Reach of the filter, and the least rate of samples at which its pulses can be read."""

FRAME_RATES = (24, 25, 30)
MOST_SPEED_OFF = 0.0215
"""How far from these frame rates a tape may run: 2 %, and the 0.1 % of 23.976 and 29.97."""

CLIP_POWER = 20.0
"""A sample of more power than so many medians counts no more in the search for the clock."""

LINE_CLIP = 2.5
WHITE_HZ = 100.0
"""For a code beneath other sound, lines of more than so many medians of a band of its spectrum
are cut down: the harmonics of an engine at a steady speed."""

LEAST_LINE = 4.5
"""How many medians the line at the bit rate must have: of noise alone, the best of some
thousand places comes to 4 (measured)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pulses:
    """Filtered sound: `z` [shape=(n,)], its rate, and the instant of its first sample."""

    z: Wave
    rate_hz: float
    start_s: float

    def part(self, first: int, last: int) -> Pulses:
        """Samples from the one number up to the other."""
        start_s = self.start_s + first / self.rate_hz
        return Pulses(z=self.z[first:last], rate_hz=self.rate_hz, start_s=start_s)

    def at(self, t_s: Floats) -> Floats:
        """Its values at instants, by cubics through four samples; nought beyond its ends."""
        place = (t_s - self.start_s) * self.rate_hz
        whole = np.floor(place).astype(np.int64)
        inside = (whole >= 1) & (whole < self.z.size - 2)
        i = np.where(inside, whole, 1)
        u = place - whole
        a, b, c, d = (self.z[i + k].astype(np.float64) for k in (-1, 0, 1, 2))
        cubic = 2 * a - 5 * b + 4 * c - d + u * (3 * (b - c) + d - a)
        return np.where(inside, b + 0.5 * u * (c - a + u * cubic), 0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BitClock:
    """When bits start: ``t = start_s + k · period_s``; frames a second by the nearest of
    `FRAME_RATES`; and how far the line stands out, in medians."""

    start_s: float
    period_s: float
    counted: int
    line: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Read:
    """What was read at the starts of bits, the one after the last with them [shape=(n + 1,)],
    and midway [shape=(n,)]."""

    starts: Floats
    middles: Floats

    @property
    def odds(self) -> Floats:
        """By how much a one explains each bit better than a nought does, up to an addend and a
        factor that are the same for all.

        ::

            |c₀ + c₁ − m| − |c₀ − c₁|       c₀, c₁: at its start and the next's, m: midway
        """
        here, then = self.starts[:-1], self.starts[1:]
        return np.abs(here + then - self.middles) - np.abs(here - then)


def pulses_of(samples: Wave, rate_hz: float, start_s: float) -> Pulses:
    """Sound with a pulse for every change of sign, at 16 to 32 thousand samples a second."""
    from scipy.signal import upfirdn

    reach = round(KERNEL_S * rate_hz)
    t = np.arange(-reach, reach + 1) / rate_hz
    bell = [f * np.exp(-((np.pi * f * t) ** 2)) for f in (HIGH_HZ, LOW_HZ)]
    kernel = np.gradient(bell[0] - bell[1])
    kernel /= np.sqrt(np.sum(kernel**2))
    every = max(1, int(rate_hz / LEAST_RATE_HZ / 1.25))
    z = upfirdn(kernel.astype(np.float32), np.asarray(samples, np.float32), 1, every)
    first = -(-reach // every)
    count = max(0, (samples.size - 1) // every)
    return Pulses(
        z=np.asarray(z[first : first + count], dtype=np.float32),
        rate_hz=rate_hz / every,
        start_s=start_s + (first * every - reach) / rate_hz,
    )


def whitened(pulses: Pulses) -> Pulses:
    """The same with its lines cut down and its spectrum evened, for a code beneath other sound."""
    n = pulses.z.size
    spectrum = np.fft.rfft(pulses.z)
    size = np.abs(spectrum)
    hz = np.fft.rfftfreq(n, 1 / pulses.rate_hz)
    wide = max(1, int(WHITE_HZ * n / pulses.rate_hz))
    bands = size.size // wide
    if bands < 2:
        return pulses
    floor = np.median(size[: bands * wide].reshape(bands, wide), axis=1)
    level = np.interp(np.arange(size.size), (np.arange(bands) + 0.5) * wide, floor)
    level += 1e-9 * float(size.max()) + 1e-30
    inside = (hz > 800) & (hz < 4000)
    shape = np.exp(-((hz / 6000) ** 4)) * (1 - np.exp(-((hz / 500) ** 4)))
    shape = shape / (level + 0.05 * float(level[inside].max()))
    cut = np.minimum(1.0, LINE_CLIP * level / np.maximum(size, 1e-30))
    z = np.fft.irfft(spectrum * cut * shape, n).astype(np.float32)
    return Pulses(z=z, rate_hz=pulses.rate_hz, start_s=pulses.start_s)


def bit_clocks(pulses: Pulses) -> list[BitClock]:
    """Clocks that the sound may hold, the likeliest first: at most one for each frame rate."""
    from scipy.fft import next_fast_len, rfft

    n = pulses.z.size
    power = np.square(pulses.z)
    middle = float(np.median(power))
    if middle == 0.0:
        return []
    power = np.minimum(power, CLIP_POWER * middle)
    power -= power.mean()
    size = next_fast_len(2 * n, real=True)
    spectrum = rfft(power * np.hanning(n).astype(np.float32), size)
    step = pulses.rate_hz / size
    found = []
    for counted in FRAME_RATES:
        low = int(BITS * counted * (1 - MOST_SPEED_OFF) / step)
        high = int(BITS * counted * (1 + MOST_SPEED_OFF) / step) + 1
        band = np.abs(spectrum[low:high])
        i = int(np.argmax(band))
        line = float(band[i] / np.median(band))
        if line >= LEAST_LINE and 0 < i < band.size - 1:
            hz = (low + i + _vertex(np.log(band[i - 1 : i + 2]))) * step
            # About the middle of the window the phase is the same all over the line.
            turn = np.exp(1j * np.pi * (low + i) * (n - 1) / size)
            late = float(np.angle(spectrum[low + i] * turn)) / (2 * np.pi * hz)
            middle_s = pulses.start_s + 0.5 * (n - 1) / pulses.rate_hz
            found.append(
                BitClock(start_s=middle_s - late, period_s=1 / hz, counted=counted, line=line)
            )
    return sorted(found, key=lambda one: one.line, reverse=True)


def _vertex(three: Floats) -> float:
    """Where a parabola through three values has its peak, from the middle one."""
    bend = float(three[0] - 2 * three[1] + three[2])
    return 0.0 if bend == 0.0 else 0.5 * float(three[0] - three[2]) / bend


def read(pulses: Pulses, start_s: float, period_s: float, bits: int) -> Read:
    """What a sound has at the starts and in the middles of bits of one length."""
    return read_at(pulses, np.asarray(start_s + period_s * np.arange(bits + 1), dtype=np.float64))


def read_at(pulses: Pulses, t_s: Floats) -> Read:
    """The same for bits that start at given instants, the end of the last with them."""
    return Read(starts=pulses.at(t_s), middles=pulses.at(0.5 * (t_s[:-1] + t_s[1:])))


def signs_of(bits: NDArray[np.int8]) -> tuple[Floats, Floats]:
    """The changes of sign of a stretch of bits: at their starts, the next bit's with them, and
    midway; upside down would be as right."""
    turns = np.where(bits == 1, 1.0, -1.0)
    starts = np.asarray(np.cumprod(np.r_[1.0, turns]), dtype=np.float64)
    return starts, np.where(bits == 1, -starts[:-1], 0.0)


def sync_sums(read_: Read) -> tuple[Floats, Floats]:
    """How well the sixteen bits that end a frame, and the same backwards, fit at every bit.

    ::

        |Σ c s + Σ m h|² / (Σ s² + Σ h²)      s, h: the changes of sign of those bits
    """
    sums = []
    for bits in (SYNC, SYNC[::-1]):
        starts, middles = signs_of(bits)
        fit = np.correlate(read_.starts, starts, "valid")
        fit += np.correlate(read_.middles, middles, "valid")
        power = np.sum(starts**2) + np.sum(middles**2)
        sums.append(np.asarray(np.square(fit) / power, dtype=np.float64))
    return sums[0], sums[1]
