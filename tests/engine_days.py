"""Days of launches: an engine's speed, what a log makes of it, and what a camera hears."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter
from sounds import engine, unit, wind

from sync.channel import Channel

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


@dataclass(frozen=True, kw_only=True)
class Hand:
    """A boat and who drives it: what all full-throttle launches of theirs have in common."""

    rpm: float
    lever_s: float
    settle_s: float
    hump: float
    down_s: float

    def launch(self, rng: np.random.Generator, t_s: float) -> Launch:
        """Full throttle once more, as far alike as a hand and a sea allow."""
        vary = rng.normal(1.0, (0.004, 0.12, 0.06, 0.02, 0.15)).clip(0.6, 1.4)
        return Launch(
            t_s=t_s, hold_s=rng.uniform(12, 30), rpm=self.rpm * vary[0],
            lever_s=self.lever_s * vary[1], settle_s=self.settle_s * vary[2],
            hump=self.hump * vary[3], down_s=self.down_s * vary[4],
        )  # fmt: skip


def some_hand(rng: np.random.Generator) -> Hand:
    return Hand(
        rpm=TOP_RPM * rng.uniform(0.95, 1.0), lever_s=rng.uniform(0.4, 1.4),
        settle_s=rng.uniform(1.5, 4), hump=rng.uniform(0.55, 0.8), down_s=rng.uniform(0.5, 2.5),
    )  # fmt: skip


def day_by(hand: Hand, rng: np.random.Generator, seconds: float) -> list[Launch]:
    """A day on which three launches of four are at full throttle."""
    return [
        hand.launch(rng, one.t_s) if rng.uniform() < 0.75 else one for one in some_day(rng, seconds)
    ]


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


@dataclass(frozen=True, kw_only=True)
class Motor:
    """What is heard of a boat's engines.

    `whine` is the ratio of a gear's tone to the engine speed, None where it has none to hear;
    `apart_rpm` how much faster a second engine turns, None where there is but one. `known` says
    whether the sheet states the cylinders, and `gusts` at which times of the sound it blows 10
    to 15 dB harder for a second or two.
    """

    cylinders: int
    known: bool = True
    whine: float | None = None
    apart_rpm: float | None = None
    gusts_s: tuple[float, ...] = ()


def some_motor(rng: np.random.Generator, seconds: float) -> Motor:
    return Motor(
        cylinders=int(rng.choice([3, 4, 6, 8])),
        known=bool(rng.uniform() < 0.8),
        whine=float(rng.uniform(11, 25)) if rng.uniform() < 0.5 else None,
        apart_rpm=float(rng.normal(0, 8)) if rng.uniform() < 0.3 else None,
        gusts_s=tuple(rng.uniform(0, seconds, rng.poisson(2.0)).tolist()),
    )


def _waves(turns: Array, most_hz: float, rng: np.random.Generator) -> Array:
    """A firing engine's sound after so many ignitions, its orders read from one drawn wave."""
    orders = min(24, int(0.48 * RATE / most_hz))
    phase = 2 * np.pi * np.arange(4096) / 4096
    wave = sum(np.sin(k * phase + rng.uniform(0, 6)) / k for k in range(1, orders + 1))
    return unit(np.asarray(wave))[(4096 * turns).astype(np.int64) & 4095]


def heard_of(
    motor: Motor,
    rpm: Array,
    first_s: float,
    seconds: float,
    rng: np.random.Generator,
    distance_m: Callable[[Array], Array] | None = None,
    level_db: float = -6.0,
) -> Array:
    """Engines under wind and gusts, aboard or from a distance that changes."""
    t = first_s + np.arange(round(seconds * RATE)) / RATE
    if distance_m is not None:
        sounded = np.arange(first_s - 1, first_s + seconds + 1, 0.01)
        t = np.interp(t, sounded + distance_m(sounded) / SOUND_MPS, sounded)
    turned = (np.cumsum(rpm) - rpm / 2) / 6000
    turns = np.interp(t, np.arange(rpm.size) / 100, turned)
    per_turn = motor.cylinders / 2
    most_hz = float(rpm.max()) / 60 * per_turn * 1.1
    tone = _waves(per_turn * turns, most_hz, rng)
    if motor.apart_rpm is not None:
        tone = tone + _waves(
            per_turn * (turns + motor.apart_rpm / 60 * (t - first_s)), most_hz, rng
        )
    if motor.whine is not None:
        tone = unit(tone) + 0.5 * np.sin(2 * np.pi * motor.whine * turns)
    noise = wind(seconds, rng, rate=RATE)
    since = np.arange(t.size) / RATE
    for gust_s in motor.gusts_s:
        half_s = rng.uniform(0.5, 1.0)
        swell = np.clip(1 - ((since - gust_s) / half_s) ** 2, 0, None)
        noise *= 1 + (10 ** (rng.uniform(10, 15) / 20) - 1) * swell
    engine_only = unit(unit(tone) + 0.15 * rng.standard_normal(t.size))
    mix = noise + 10 ** (level_db / 20) * engine_only
    return (0.1 * unit(mix)).astype(np.float32)


@dataclass(frozen=True, kw_only=True)
class Log:
    """A logged day: the channel, by how much its stated delay is too long, and the true offset
    of a film from `first_s` on at an instant of the film."""

    channel: Channel
    delay_error_s: float
    rate: float

    def offset_s(self, first_s: float, at_s: float) -> float:
        """Log less film, where the log's clock runs fast by its rate."""
        return LOG_START_S + (first_s + at_s) * (1 + self.rate) - at_s


def some_log(rpm: Array, rng: np.random.Generator, delay_sd_s: float = 0.02) -> Log:
    """2 to 20 rows a second on a clock that drifts, with coloured noise, unsteady stamps, now and
    then a hole, and a delay that is known to its deviation."""
    period = float(np.exp(rng.uniform(np.log(0.05), np.log(0.5))))
    t = np.arange(0.5, rpm.size / 100 - 0.5, period)
    t = t + rng.uniform(-0.02, 0.02, t.size) * period
    for _ in range(rng.poisson(rpm.size / 100 / 1200)):
        hole_s = rng.uniform(0, rpm.size / 100)
        t = t[(t < hole_s) | (t > hole_s + rng.uniform(1, 10))]
    late_s = DELAY_S + delay_sd_s * rng.standard_normal()
    rate = rng.uniform(-50e-6, 50e-6)
    noise = lfilter([1], [1, -0.6], 5 * 0.8 * rng.standard_normal(t.size))
    values = np.interp(t - late_s, np.arange(rpm.size) / 100, rpm) + noise
    channel = Channel(
        name="engine_speed", clock="log:engine", t_s=LOG_START_S + np.round(t * (1 + rate), 3),
        values=np.round(values * 4) / 240, delay_s=DELAY_S, delay_sd_s=delay_sd_s,
    )  # fmt: skip
    return Log(channel=channel, delay_error_s=DELAY_S - late_s, rate=rate)


def with_look_alike(rpm: Array, launch: Launch, rng: np.random.Generator) -> Array:
    """The day with a stretch about one launch copied over another place of it, alike to what a
    hand at its most even and an engine's own wander leave."""
    before, after = 30.0, 62.0
    first, last = round((launch.t_s - before) * 100), round((launch.t_s + after) * 100)
    first, last = max(first, 0), min(last, rpm.size)
    places = np.arange(0, rpm.size - (last - first))
    places = places[(places > last + 2000) | (places + (last - first) < first - 2000)]
    place = int(rng.choice(places))
    wander = lfilter([1], [1, -(1 - 0.01 / 1.5)], rng.standard_normal(last - first))
    out = rpm.copy()
    out[place : place + last - first] = rpm[first:last] * (1 + 0.001 * wander / wander.std())
    return out
