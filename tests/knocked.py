"""An acceleration log of a boat in a short sea, in which somebody knocks beside the sensor."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.signal import butter, sosfilt

from sync.channel import Channel

FINE_HZ = 2000.0
SENSE_DELAY_SD_S = 0.002


def knocked(
    rng: np.random.Generator, at_s: Sequence[float], length_s: float, *, rate_hz: float = 50.0
) -> Channel:
    """A channel with knocks at given times, and in half of the logs slams on waves besides.

    A sensor takes the mean of its sample's time, up to its stamp, or has a low-pass filter at
    two fifths of its rate; its delay is known to two milliseconds. Stamps jitter by a
    millisecond.
    """
    n = int(length_s * FINE_HZ)
    t = np.arange(n) / FINE_HZ
    motion = 1.5 * np.sin(2 * np.pi * 0.7 * t + rng.uniform(0, 6))
    motion += 0.6 * np.sin(2 * np.pi * 1.9 * t + rng.uniform(0, 6))
    shake = float(rng.uniform(0.2, 1.5)) * np.sin(2 * np.pi * rng.uniform(15, 70) * t)
    motion = motion + shake + rng.uniform(0.5, 2.5) * rng.standard_normal(n)
    for start in rng.uniform(0, length_s, int(rng.integers(1, 8)) if rng.uniform() < 0.5 else 0):
        since = t - start
        after = np.maximum(since, 0.0)
        ring = np.exp(-after / rng.uniform(0.1, 0.3)) * np.cos(
            2 * np.pi * rng.uniform(2, 6) * after
        )
        motion += np.where(since >= 0, rng.uniform(3, 12) * ring, 0.0)
    for at in at_s:
        motion += _knock(rng, t - at)
    late_s = float(rng.normal(0, SENSE_DELAY_SD_S))
    if rng.uniform() < 0.5:
        width = round(FINE_HZ / rate_hz)
        sensed = np.convolve(motion, np.full(width, 1 / width))[:n]
        delay_s = 0.5 / rate_hz
    else:
        corner_hz = 0.4 * rate_hz
        sensed = sosfilt(butter(2, corner_hz, fs=FINE_HZ, output="sos"), motion)
        delay_s = 2**0.5 / (2 * np.pi * corner_hz)
    stamps = np.arange(rng.uniform(0.1, 0.2), length_s - 0.1, 1 / rate_hz)
    values = np.interp(stamps - late_s, t, sensed)
    return Channel(
        name="acceleration", clock="log:attitude", values=values, delay_s=delay_s,
        delay_sd_s=SENSE_DELAY_SD_S, t_s=stamps + rng.uniform(-0.001, 0.001, stamps.size),
    )  # fmt: skip


def _knock(rng: np.random.Generator, since: np.ndarray) -> np.ndarray:
    """Half a sine of some milliseconds, and what the mount rings on."""
    lasts = float(rng.uniform(0.002, 0.008))
    peak = float(rng.choice([-1, 1]) * rng.uniform(150, 500)) * 0.004 / lasts
    push = np.where((since >= 0) & (since < lasts), np.sin(np.pi * since / lasts), 0.0)
    after = np.maximum(since - lasts, 0.0)
    tail = 0.2 * np.exp(-after / 0.01) * np.sin(2 * np.pi * 60 * after)
    return np.asarray(peak * (push + tail))
