"""The waves under the boat: a few long-crested components, known at every place and time."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from demo_media.boat import GRAVITY


@dataclass(frozen=True, slots=True, kw_only=True)
class Swell:
    """Deep-water waves as rows of (amplitude m, wave number 1/m, direction rad, phase rad).

    ::

        height = Σ a cos(k (x sin d + y cos d) - ω t + p),   ω² = g k
    """

    rows: tuple[tuple[float, float, float, float], ...]
    length_m: float

    def at(
        self, x_m: float, y_m: float, t_s: float, heading_rad: float, speed_mps: float
    ) -> tuple[float, float, float]:
        """Height, slope ahead (bow up) and slope abeam (starboard down) that move a hull.

        Waves shorter than the hull move it little, and a planing hull skips over the rest.
        """
        height = ahead = abeam = 0.0
        skip = 1 / (1 + (speed_mps / 13.0) ** 2)
        north, east = math.cos(heading_rad), math.sin(heading_rad)
        for lift, slopes, to_east, to_north, kx, ky, pace, phase in _waves(
            self.rows, self.length_m
        ):
            angle = kx * x_m + ky * y_m - pace * t_s + phase
            height += lift * math.cos(angle)
            sine = math.sin(angle)
            ahead -= slopes[0] * sine * (to_north * north + to_east * east)
            abeam += slopes[1] * sine * (to_east * north - to_north * east)
        return height * skip, ahead * skip, abeam * skip


@cache
def _waves(
    rows: tuple[tuple[float, float, float, float], ...], length_m: float
) -> tuple[tuple[float, tuple[float, float], float, float, float, float, float, float], ...]:
    """What of each wave is the same at every place and time.

    Its height as a hull feels it, its slopes ahead and abeam, the east and north of its
    direction, its wave numbers east and north, its pace in 1/s and its phase.
    """
    waves = []
    for amplitude, k, direction, phase in rows:
        short = math.exp(-((k * length_m / 5.0) ** 2))
        east, north = math.sin(direction), math.cos(direction)
        slopes = (amplitude * k * short, amplitude * k * math.sqrt(short))
        pace = math.sqrt(GRAVITY * k)
        waves.append((amplitude * short, slopes, east, north, k * east, k * north, pace, phase))
    return tuple(waves)


def make_swell(seed: int, wind_to_deg: float, length_m: float) -> Swell:
    """A low, slow sea: a swell of 18 to 30 m and a chop of 5 to 12 m about the wind."""
    rng = np.random.default_rng(seed)
    rows = []
    for wave_m, amplitude in ((29, 0.062), (21, 0.048), (17, 0.040), (11, 0.028), (7, 0.020)):
        direction = math.radians(wind_to_deg + float(rng.normal(0, 24)))
        length = wave_m * float(rng.uniform(0.92, 1.08))
        phase = float(rng.uniform(0, 2 * math.pi))
        rows.append((amplitude, 2 * math.pi / length, direction, phase))
    return Swell(rows=tuple(rows), length_m=length_m)
