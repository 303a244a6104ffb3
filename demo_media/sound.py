"""What a camera's microphone hears: engine, water, wind and the clap.

The engine's note is its four-stroke cycle, half the crankshaft's speed, played out of a
table of one cycle: strong at the firing frequency (rpm · cylinders / 120) and its multiples,
weak at the orders between, which an uneven engine has. It is heard as it was when it left
the engine (`listening`). From the chase boat it comes across the water, weaker with distance
and duller, among that boat's own water and wind. Everything is worked out from the simulated
day, at the camera and in footage time.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from demo_media.chase import LATE_S
from demo_media.listening import left_s
from demo_media.noise import generator
from demo_media.scenario import Scenario
from demo_media.shots import BOW, Shot
from demo_media.simulate import Day

Floats = NDArray[np.float64]

CYCLE_STEPS = 4096
ORDERS = 64
"""Highest multiple of the cycle's frequency in the engine's note."""

CLAP_PEAK = 0.9
"""Loudest sample of the clap; the idling engine stays below a tenth."""

_RESONANCES = ((1450.0, 0.020, 0.35), (2380.0, 0.012, 0.45), (4100.0, 0.007, 0.40))
"""Ringing of the bars: frequency in Hz, decay in s, share."""


LOUD_AT_M = 13.0
"""Distance at which the engine across the water is as loud as it is aboard, where hull and
transom shade it (own choice)."""

DULL_HZ = 1800.0
"""Above this the water and the air take the edge off a sound from afar."""


def make_sound(
    day: Day,
    scenario: Scenario,
    cylinders: int,
    length_s: float,
    rate_hz: int,
    shot: Shot = BOW,
) -> NDArray[np.float32]:
    """A whole recording's sound.

    Returns
    -------
    samples : [shape=(length_s * rate_hz,)]
        Between -1 and 1; sample i is heard at footage time i / rate_hz.
    """
    count = round(length_s * rate_hz)
    t = np.arange(count) / rate_hz
    at = shot.start_s + t
    seed = scenario.instruments.seed + int(shot.start_s - BOW.start_s)
    left = left_s(day, scenario, shot, at)
    mix = _engine(day, left, cylinders, rate_hz, seed)
    if shot.view == "bow":
        speed = np.abs(day.at("water_mps", at))
        mix += _water(speed, rate_hz, seed) + _wind(speed, rate_hz, seed)
    else:
        speed = np.abs(day.at("water_mps", at - LATE_S))
        away_m = (at - left) * scenario.sound_speed_mps
        mix = _dulled(mix * LOUD_AT_M / away_m, rate_hz)
        mix += 0.55 * _water(speed, rate_hz, seed) + 0.8 * _wind(speed, rate_hz, seed)
    mix = np.tanh(1.2 * mix) / 1.2
    if shot.clapped:
        mix += _clap(t, scenario.clap_heard_s, seed)
    return np.clip(mix, -1, 1).astype(np.float32)


def _dulled(sound: Floats, rate_hz: int) -> Floats:
    """A sound with its highs taken off."""
    spectrum = np.fft.rfft(sound, n=1 << max(sound.size - 1, 1).bit_length())
    frequency = np.fft.rfftfreq(2 * (spectrum.size - 1), 1 / rate_hz)
    spectrum /= np.sqrt(1 + (frequency / DULL_HZ) ** 2)
    return np.asarray(np.fft.irfft(spectrum)[: sound.size])


def _engine(day: Day, at: Floats, cylinders: int, rate_hz: int, seed: int) -> Floats:
    """The engine as it sounds to one for whom it is `at` times of the day."""
    rng = generator(seed, "engine sound")
    rps = day.at("engine_rps", at)
    load = np.clip(day.at("torque_nm", at) / 195.0, 0.0, 1.0)
    wander = np.cumsum(rng.normal(0, 1, at.size)) / rate_hz
    unsteady = 0.9 * (1.15 - load) * _smooth(wander, rate_hz // 20)
    cycle = np.cumsum(rps / 2 * np.gradient(at)) + unsteady
    place = (cycle % 1.0) * CYCLE_STEPS
    soft, hard = (_cycle_table(rng, cylinders, fall) for fall in (1.25, 0.72))
    note = _read(soft, place) * (1 - load) + _read(hard, place) * load
    roughness = 1 + 0.25 * _read(_smooth(rng.normal(0, 12, CYCLE_STEPS), 200), place) * (1 - load)
    hiss = _shaped(rng, at.size, rate_hz, 250.0, 2600.0) * (0.25 + 0.75 * _pulse(place, cylinders))
    turns = np.clip(rps / 92.0, 0.0, 1.1)
    loud = 0.028 + 0.055 * turns + 0.115 * load * turns**0.6
    return np.asarray(loud * (note * roughness + (0.16 + 0.30 * load) * hiss))


def _cycle_table(rng: np.random.Generator, cylinders: int, fall: float) -> Floats:
    """One cycle of the exhaust's note; a steeper fall of its orders sounds softer."""
    phase = np.arange(CYCLE_STEPS) / CYCLE_STEPS * 2 * np.pi
    table = np.zeros(CYCLE_STEPS)
    for order in range(1, ORDERS + 1):
        firing = order % cylinders == 0
        share = (order / cylinders) ** -fall * (1.0 if firing else 0.13)
        table += share * np.sin(order * phase + float(rng.uniform(0, 2 * np.pi)))
    return np.asarray(table / np.sqrt((table**2).mean()))


def _pulse(place: Floats, cylinders: int) -> Floats:
    """How open the exhaust is through the cycle, a bump for each cylinder."""
    turn = place * (2 * np.pi * cylinders / CYCLE_STEPS)
    return np.asarray(np.clip(0.5 + 0.5 * np.cos(turn), 0, 1) ** 2)


def _read(table: Floats, place: Floats) -> Floats:
    whole = place.astype(np.int64)
    share = place - whole
    return np.asarray(
        table[whole % table.size] * (1 - share) + table[(whole + 1) % table.size] * share
    )


def _water(speed: Floats, rate_hz: int, seed: int) -> Floats:
    """Lapping at rest, a rush that rises with speed, slaps from the bow on the plane."""
    rng = generator(seed, "water sound")
    rush = _shaped(rng, speed.size, rate_hz, 420.0, 3800.0)
    lap = _shaped(rng, speed.size, rate_hz, 180.0, 900.0)
    slow = _shaped(rng, speed.size, rate_hz, 0.25, 1.3)
    slaps = np.clip(_shaped(rng, speed.size, rate_hz, 0.6, 4.0) - 0.6, 0, None)
    share = np.clip(speed / 22.0, 0, 1)
    rushing = 0.085 * share**1.3 * (1 + 0.12 * slow) * rush
    lapping = 0.012 * np.exp(-speed / 2.5) * np.clip(0.5 + slow, 0, None) * lap
    return np.asarray(rushing + lapping + 0.05 * share * slaps * lap)


def _wind(speed: Floats, rate_hz: int, seed: int) -> Floats:
    """Rumble of the air at the microphone, with the square of its speed, in gusts."""
    rng = generator(seed, "wind sound")
    rumble = _shaped(rng, speed.size, rate_hz, 30.0, 260.0)
    gusts = _shaped(rng, speed.size, rate_hz, 0.3, 3.0)
    air = np.clip((speed + 2.0) / 24.0, 0, 1.2)
    return np.asarray(0.15 * air**2 * np.clip(1 + 0.35 * gusts, 0.2, None) * rumble)


def _clap(t: Floats, heard_s: float, seed: int) -> Floats:
    """Two bars meeting: from silence to full within a sample, gone in a twentieth second."""
    rng = generator(seed, "clap")
    since = t - heard_s
    struck = (since >= 0) & (since < 0.25)
    age = since[struck]
    crack = rng.uniform(-1, 1, age.size) * np.exp(-age / 0.0035)
    ring = np.zeros(age.size)
    for frequency, decay, share in _RESONANCES:
        ring += share * np.cos(2 * np.pi * frequency * age) * np.exp(-age / decay)
    sound = 0.8 * crack + ring
    out = np.zeros(t.size)
    if age.size:
        out[struck] = CLAP_PEAK * sound / np.abs(sound).max()
    return out


def _shaped(
    rng: np.random.Generator, count: int, rate_hz: int, low_hz: float, high_hz: float
) -> Floats:
    """Noise between two frequencies, falling off gently outside; standard deviation 1."""
    size = 1 << max(count - 1, 1).bit_length()
    spectrum = np.fft.rfft(rng.normal(size=size))
    frequency = np.fft.rfftfreq(size, 1 / rate_hz)
    frequency[0] = frequency[1]
    spectrum /= 1 + (low_hz / frequency) ** 3
    spectrum /= 1 + (frequency / high_hz) ** 2.2
    noise = np.fft.irfft(spectrum, n=size)[:count]
    return np.asarray(noise / noise.std())


def _smooth(values: Floats, width: int) -> Floats:
    """A running mean over a width, as long as its input."""
    total = np.cumsum(np.concatenate([np.zeros(width), values, np.full(width, values[-1])]))
    mean = (total[width:] - total[:-width]) / width
    return np.asarray(mean[width // 2 : width // 2 + values.size])
