"""The engine's note: a minute of footage with one launch in it against two hours of log.

The engine has 3 to 8 cylinders, which the sheet states or not, at times a whining gear or a
second engine a few turns a minute apart, and lies 6 dB below wind that gusts. Logs have 2 to 20
rows a second, noise, holes and a clock that drifts; how late they are is known to 0.02 s, and how
far a chase boat was off at the launch to a tenth.
"""

from __future__ import annotations

import math

import numpy as np
from engine_days import (
    RATE,
    SOUND_MPS,
    Launch,
    day_by,
    heard_of,
    passing,
    some_day,
    some_hand,
    some_log,
    some_motor,
    speed_of,
    with_look_alike,
)
from study import Outcome, Row

from sync.channel import Channel
from sync.clues import Finding, engine_note_clues

DAY_S, FILM_S = 7200.0, 60.0
DISTANCE_SD = 0.1


def listen(
    samples: np.ndarray, channel: Channel, cylinders: int | None, way_s: float | None = None
) -> Finding:
    """What the clue says, told of the engine and the sound's way what a sheet states."""
    found = engine_note_clues(
        clock="footage:bow", samples=samples, rate_hz=RATE, start_s=0.0, channel=channel,
        cylinders=cylinders, strokes=4, afar=way_s is not None,
        sound_delay_s=way_s or 0.0, sound_delay_sd_s=DISTANCE_SD * (way_s or 0.0),
    )  # fmt: skip
    assert found.clues or found.remarks, "a refusal says why"
    return found


def steepest_s(rpm: np.ndarray, launch: Launch) -> float:
    """When in a launch the engine speed rises fastest."""
    first = round(launch.t_s * 100)
    rise = np.diff(np.log(rpm[first : first + 400]))
    return (first + int(rise.argmax()) + 0.5) / 100


def one_of(launches: list[Launch], rng: np.random.Generator) -> Launch:
    return launches[int(rng.integers(1, len(launches) - 1))]


def by_note(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """An engine aboard."""
    launches = some_day(rng, DAY_S)
    rpm = speed_of(launches, DAY_S, rng)
    first = one_of(launches, rng).t_s - rng.uniform(5, 25)
    motor = some_motor(rng, FILM_S)
    sound, log = heard_of(motor, rpm, first, FILM_S, rng), some_log(rpm, rng)
    found = listen(sound, log.channel, motor.cylinders if motor.known else None).clues
    if not found:
        return [Outcome(error=math.nan)]
    clue = found[0]
    error = clue.offset_s - log.offset_s(first, clue.at_s or 0.0)
    return [Outcome(error=error, delay=-log.delay_error_s, sd=clue.sd_s)]


def by_note_afar(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """The same from a boat 20 to 100 m off."""
    launches = some_day(rng, DAY_S)
    rpm = speed_of(launches, DAY_S, rng)
    launch = one_of(launches, rng)
    first = launch.t_s - rng.uniform(5, 12)
    distance, motor = passing(rng, launch.t_s), some_motor(rng, FILM_S)
    sound, log = heard_of(motor, rpm, first, FILM_S, rng, distance), some_log(rpm, rng)
    true_s = float(distance(np.array([steepest_s(rpm, launch)]))[0]) / SOUND_MPS
    way_s = true_s * (1 + DISTANCE_SD * rng.standard_normal())
    found = listen(sound, log.channel, motor.cylinders if motor.known else None, way_s).clues
    if not found:
        return [Outcome(error=math.nan)]
    clue = found[0]
    error = clue.offset_s - log.offset_s(first, clue.at_s or 0.0)
    return [Outcome(error=error, delay=way_s - true_s - log.delay_error_s, sd=clue.sd_s)]


def _from_one_of_them(
    rng: np.random.Generator, rpm: np.ndarray, logged: np.ndarray, launch: Launch
) -> list[Outcome]:
    """Footage of one day, aboard or afar, held against a log: any answer is a wrong one."""
    motor, channel = some_motor(rng, FILM_S), some_log(logged, rng).channel
    distance = passing(rng, launch.t_s) if rng.uniform() < 0.5 else None
    way_s = None if distance is None else float(distance(np.array([launch.t_s]))[0]) / SOUND_MPS
    first = launch.t_s - (rng.uniform(5, 25) if distance is None else rng.uniform(5, 12))
    sound = heard_of(motor, rpm, first, FILM_S, rng, distance)
    found = listen(sound, channel, motor.cylinders if motor.known else None, way_s).clues
    return [Outcome(error=found[0].offset_s if found else math.nan)]


def by_another_day(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """A log of the same boat and hand on another day, three of four launches at full throttle."""
    hand = some_hand(rng)
    launches = day_by(hand, rng, DAY_S)
    rpm = speed_of(launches, DAY_S, rng)
    other = speed_of(day_by(hand, rng, DAY_S), DAY_S, rng)
    return _from_one_of_them(rng, rpm, other, one_of(launches, rng))


def by_look_alike(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """A day with two launches that are alike, of which the footage shows one."""
    launches = some_day(rng, DAY_S)
    rpm = speed_of(launches, DAY_S, rng)
    launch = one_of(launches, rng)
    rpm = with_look_alike(rpm, launch, rng)
    return _from_one_of_them(rng, rpm, rpm, launch)


ROWS = (
    Row(name="note", goal=0.04, unit="ms", scale=1e3, short=3, answers=0.8, run=by_note),
    Row(name="note afar", goal=0.08, unit="ms", scale=1e3, short=0, answers=0.35,
        run=by_note_afar),
    Row(name="note, other day", goal=math.inf, unit="s", scale=1.0, short=1, refuses=True,
        run=by_another_day),
    Row(name="note, look-alike", goal=math.inf, unit="s", scale=1.0, short=1, refuses=True,
        run=by_look_alike),
)  # fmt: skip
