"""Pieces of days for studies of results: a boat, a sea and a stream drawn at random, and what a
careful crew's instruments would have logged of them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from sailed import T0, logged

from demo_media.boat import DEMO
from demo_media.noise import coloured
from demo_media.script import Command, Script
from demo_media.simulate import Day, simulate
from demo_media.swell import make_swell
from sync.channel import Channel

MOST_STREAM_MPS = 2 * 1852 / 3600
RECEIVER_SD_S, LEVER_SD_S = 0.02, 0.01
"""Doubts about delays that a careful crew would state."""

DOPPLER_SD_MPS, DOPPLER_S = 0.05, 0.3
"""Noise of speed, ten values a second: its size from receivers' data sheets (from memory), and
for how long it remembers itself."""


def sail(rng: np.random.Generator, commands: list[Command], length_s: float) -> Day:
    """Obey some commands in a boat, a sea and a stream that are drawn at random."""
    return sail_twice(rng, commands, length_s, calm=False)[0]


def sail_twice(
    rng: np.random.Generator, commands: list[Command], length_s: float, *, calm: bool = True
) -> tuple[Day, Day]:
    """The same, and what it would have been without waves; the same twice where not `calm`."""
    hull = replace(DEMO.hull, mass_kg=float(rng.uniform(1000, 1400)))
    weather = replace(
        DEMO.weather,
        current_mps=float(rng.uniform(0, MOST_STREAM_MPS)),
        current_to_deg=float(rng.uniform(0, 360)),
    )
    course = commands[0].course_deg or 0.0
    script = Script(commands=tuple(commands), length_s=length_s, heading_deg=course)
    swell = make_swell(int(rng.integers(1 << 30)), 220.0, hull.length_m)
    setup = replace(DEMO, hull=hull, weather=weather)
    day = simulate(script, setup, swell)
    return day, simulate(script, setup, replace(swell, rows=())) if calm else day


def instruments(rng: np.random.Generator, day: Day) -> tuple[dict[str, Channel], float, float]:
    """The day's channels with the delays that are stated taken out: speed and throttle late by
    what nobody knows; and how late that is, for each of the two."""
    channels = logged(day, int(rng.integers(1 << 30)))
    late = float(rng.normal(0, RECEIVER_SD_S))
    lever_late = float(rng.normal(0, LEVER_SD_S))
    t = channels["speed"].t_s - T0
    noise = coloured(rng, t.size, sd=DOPPLER_SD_MPS, period_s=0.1, time_s=DOPPLER_S)
    speed = np.abs(day.at("speed_mps", t - late) + noise)
    throttle = np.abs(day.at("lever", t - lever_late))
    channels["speed"] = replace(channels["speed"], values=speed, delay_sd_s=RECEIVER_SD_S)
    channels["throttle"] = replace(
        channels["throttle"], values=np.round(throttle, 3), delay_sd_s=LEVER_SD_S
    )
    return channels, late, lever_late


def bound_mps(since_s: np.ndarray, degree: int) -> float:
    """The least standard deviation with which any unbiased fit of a polynomial can read the speed
    at nought off samples at some times: the bound of Cramér and Rao,

    ::

        var = [(Xᵀ C⁻¹ X)⁻¹]₀₀,   C_ij = σ² exp(−|t_i − t_j| / τ)

    which best linear unbiased estimation attains for Gaussian noise (Gauss and Markov, Aitken).
    """
    apart = np.abs(since_s[:, None] - since_s[None, :])
    noise = DOPPLER_SD_MPS**2 * np.exp(-apart / DOPPLER_S)
    powers = np.vander(since_s, degree + 1, increasing=True)
    return math.sqrt(np.linalg.inv(powers.T @ np.linalg.solve(noise, powers))[0, 0])
