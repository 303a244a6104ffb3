"""Days of launches: an engine's speed, what a log makes of it, and what a camera hears."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter
from sounds import engine, unit, wind

from sync.log import Channel

RATE = 12000
IDLE_RPM, TOP_RPM = 700.0, 5500.0
DELAY_S = 0.15
LOG_START_S = -500.0
SOUND_MPS = 340.0

Array = np.ndarray


@dataclass(frozen=True, kw_only=True)
class Launch:
    """From when to when, up to what, and how fast the lever moves and the boat follows."""

    t_s: float
    hold_s: float
    rpm: float
    lever_s: float
    settle_s: float
    hump: float
    down_s: float


def some_launch(rng: np.random.Generator, t_s: float) -> Launch:
    full = rng.uniform() < 0.5
    rpm = TOP_RPM * rng.uniform(0.985, 1.0) if full else rng.uniform(2500, 4800)
    return Launch(
        t_s=t_s, hold_s=rng.uniform(12, 30), rpm=rpm, lever_s=rng.uniform(0.4, 1.4),
        settle_s=rng.uniform(1.5, 4), hump=rng.uniform(0.55, 0.8) if rpm > 4000 else 1.0,
        down_s=rng.uniform(0.5, 2.5),
    )  # fmt: skip


def some_day(rng: np.random.Generator, seconds: float) -> list[Launch]:
    launches = [some_launch(rng, rng.uniform(30, 40))]
    while (after := launches[-1].t_s + launches[-1].hold_s + rng.uniform(45, 140)) < seconds - 40:
        launches.append(some_launch(rng, after))
    return launches


def speed_of(launches: list[Launch], seconds: float, rng: np.random.Generator) -> Array:
    """Engine speed in rpm, 100 a second, with the wander of an engine under load."""
    wanted = np.full(round(seconds * 100), IDLE_RPM)
    for one in launches:
        first, last = round(one.t_s * 100), round((one.t_s + one.hold_s) * 100)
        since = np.arange(last - first) / 100
        climb = 1 - np.exp(-np.clip(since - one.lever_s, 0, None) / one.settle_s)
        opened = np.clip(since / one.lever_s, 0, 1)
        rise = (one.rpm - IDLE_RPM) * opened * (one.hump + (1 - one.hump) * climb)
        wanted[first:last] += rise
        fall = rise[-1] * (1 - np.arange(round(one.down_s * 100)) / (one.down_s * 100))
        wanted[last : last + fall.size] += fall[: wanted.size - last]
    for _ in range(2):
        wanted = lfilter([1 / 21], [1, -20 / 21], wanted - IDLE_RPM) + IDLE_RPM
    wander = lfilter([1], [1, -(1 - 0.01 / 1.5)], rng.standard_normal(wanted.size))
    return wanted * (1 + 0.003 * wander / wander.std())


def logged(rpm: Array, rng: np.random.Generator, delay_sd_s: float = 0.0) -> Channel:
    """Ten rows a second, late by the gateway's delay, with noise and unsteady stamps."""
    t = np.arange(0.3, rpm.size / 100 - 0.3, 0.1)
    t = np.round(t + rng.uniform(-0.002, 0.002, t.size), 3)
    noise = lfilter([1], [1, -0.6], 5 * 0.8 * rng.standard_normal(t.size))
    values = np.interp(t - DELAY_S, np.arange(rpm.size) / 100, rpm) + noise
    return Channel(
        name="engine_speed", clock="log:engine", t_s=LOG_START_S + t,
        values=np.round(values * 4) / 240, delay_s=DELAY_S, delay_sd_s=delay_sd_s,
    )  # fmt: skip


def heard(
    rpm: Array, first_s: float, seconds: float, rng: np.random.Generator, level_db: float = -6.0
) -> Array:
    """A four-cylinder four-stroke under wind: f = rpm · 4 / 120."""
    t = first_s + np.arange(round(seconds * RATE)) / RATE
    hz = np.interp(t, np.arange(rpm.size) / 100, rpm) * 4 / 120
    mix = wind(seconds, rng, rate=RATE) + 10 ** (level_db / 20) * engine(hz, seconds, rng, RATE)
    return (0.1 * unit(mix)).astype(np.float32)


def heard_afar(
    rpm: Array,
    first_s: float,
    seconds: float,
    rng: np.random.Generator,
    distance_m: Callable[[Array], Array],
    level_db: float = -6.0,
) -> Array:
    """The same from a camera at a distance that changes: what sounds at t is heard at
    t + distance(t) / c, and its frequency with it."""
    sounded = np.arange(first_s - 1, first_s + seconds + 1, 0.01)
    arrives = sounded + distance_m(sounded) / SOUND_MPS
    t = first_s + np.arange(round(seconds * RATE)) / RATE
    then = np.interp(t, arrives, sounded)
    hz = np.interp(then, np.arange(rpm.size) / 100, rpm) * 4 / 120 * np.gradient(then, 1 / RATE)
    mix = wind(seconds, rng, rate=RATE) + 10 ** (level_db / 20) * engine(hz, seconds, rng, RATE)
    return (0.1 * unit(mix)).astype(np.float32)


def passing(rng: np.random.Generator, launch_s: float) -> Callable[[Array], Array]:
    """Distance of a boat that launches from one that lies 20 to 80 m off or goes along."""
    off, ahead = rng.uniform(20, 80), rng.uniform(-60, 60)
    along, top, settle = rng.uniform(0, 10), rng.uniform(12, 22), rng.uniform(4, 8)

    def distance(t: Array) -> Array:
        since = np.clip(t - launch_s - 1, 0, None)
        gone = top * (since - settle * (1 - np.exp(-since / settle)))
        return np.hypot(off, gone - ahead - along * (t - launch_s))

    return distance
