"""Dead, stuck and contradictory sensors: each fault is found, and sound days have none.

The faults are simulated on a simulated day; that a sound day has none is counted over
several waters and seeds of noise.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from sailed import T0, changed, logged, only, sailed, script, within

from sync.channel import Channel
from sync.clock import UTC
from sync.health import RULES, Ailment, joint_ailments, log_ailments
from sync.log import Log

Channels = dict[str, Channel]
Fault = Callable[[Channels], Channels]

LAUNCH = next(one for one in script()[1] if one.what == "launch")
FULL = [one for one in script()[1] if one.what == "step"][3]
"""The step at full throttle, the fourth of the first pass."""


def ailments(channels: Channels) -> tuple[Ailment, ...]:
    log = Log(name="day", path=Path("day.log"), format="test", clock=UTC, channels=channels)
    return (*log_ailments(log), *joint_ailments(channels))


@pytest.fixture(scope="module")
def sound() -> Channels:
    return logged(sailed())


def with_values(channels: Channels, key: str, start_s: float, stop_s: float, value: float) -> dict:
    """A channel that has one value over a stretch of the day; NaN for the one it begins with."""
    channel = channels[key]
    inside = within(channel, start_s, stop_s)
    held = channel.values[np.flatnonzero(inside)[0]] if math.isnan(value) else value
    return {**channels, key: changed(channel, np.where(inside, held, channel.values))}


def all_day(channels: Channels, key: str, values: Callable[[np.ndarray], np.ndarray]) -> dict:
    return {**channels, key: changed(channels[key], values(channels[key].values))}


def kept(channels: Channels, key: str, keep: Callable[[Channel], np.ndarray]) -> dict:
    return {**channels, key: only(channels[key], keep(channels[key]))}


def moved_in_time(channel: Channel, by_s: float) -> Channel:
    """The channel's values as they were some time before, around its ends."""
    return changed(channel, np.roll(channel.values, round(by_s / channel.period_s)))


def still_position(channels: Channels) -> Channels:
    out = channels
    for key in ("latitude", "longitude"):
        out = with_values(out, key, FULL.start_s + 10, FULL.start_s + 14, math.nan)
    return out


def twice(channels: Channels) -> Channels:
    values = channels["engine_speed"].values.copy()
    place = int(FULL.start_s * 10)
    values[place + 150 : place + 220] = values[place + 50 : place + 120]
    return {**channels, "engine_speed": changed(channels["engine_speed"], values)}


def thinned(channel: Channel) -> np.ndarray:
    """Two of three samples lost for half a minute, each gap shorter than a hole."""
    rows = np.arange(channel.t_s.size)
    return ~within(channel, 100, 130) | (rows % 3 == 0)


def bracket(channels: Channels) -> Channels:
    half = channels["pitch"].t_s > T0 + 250
    return all_day(channels, "pitch", lambda v: v + np.where(half, math.radians(3), 0))


FAULTS: dict[str, tuple[str, str, Fault]] = {
    "pitch without a value": (
        "no_value",
        "pitch",
        lambda c: all_day(c, "pitch", lambda v: v * np.nan),
    ),
    "fuel flow in every third sample": (
        "silent",
        "fuel_flow",
        lambda c: all_day(c, "fuel_flow", lambda v: np.where(np.arange(v.size) % 3, np.nan, v)),
    ),
    "engine speed stuck through a launch": (
        "stuck",
        "engine_speed",
        lambda c: with_values(c, "engine_speed", LAUNCH.start_s - 2, LAUNCH.start_s + 8, math.nan),
    ),
    "fuel flow stuck all day": (
        "stuck",
        "fuel_flow",
        lambda c: all_day(c, "fuel_flow", lambda v: v * 0 + 1e-5),
    ),
    "pitch stuck all day": ("stuck", "pitch", lambda c: all_day(c, "pitch", lambda v: v * 0)),
    "speed at nought through a launch": (
        "stuck",
        "speed",
        lambda c: with_values(c, "speed", LAUNCH.start_s - 5, LAUNCH.start_s + 10, 0.0),
    ),
    "a lever sensor that fell off": (
        "stuck",
        "throttle",
        lambda c: all_day(c, "throttle", lambda v: v * 0 + 0.2),
    ),
    "turn rate stuck through the turning": (
        "stuck",
        "turn_rate",
        lambda c: with_values(c, "turn_rate", FULL.stop_s + 2, FULL.stop_s + 32, 0.01),
    ),
    "engine speed frozen at full throttle": (
        "frozen",
        "engine_speed",
        lambda c: with_values(c, "engine_speed", FULL.start_s + 15, FULL.start_s + 22, math.nan),
    ),
    "roll frozen at full throttle": (
        "frozen",
        "roll",
        lambda c: with_values(c, "roll", FULL.start_s + 10, FULL.start_s + 16, math.nan),
    ),
    "pitch cut off at 4 degrees": (
        "at_limit",
        "pitch",
        lambda c: all_day(c, "pitch", lambda v: np.minimum(v, math.radians(4))),
    ),
    "engine speed cut off at 5000 rpm": (
        "at_limit",
        "engine_speed",
        lambda c: all_day(c, "engine_speed", lambda v: np.minimum(v, 5000 / 60)),
    ),
    "engine speed once in two seconds": (
        "slow",
        "engine_speed",
        lambda c: kept(c, "engine_speed", lambda one: np.arange(one.t_s.size) % 20 == 0),
    ),
    "speed thinned out": ("sagging", "speed", lambda c: kept(c, "speed", thinned)),
    "a buffer written twice": ("repeated", "engine_speed", twice),
    "a position that stays": ("frozen_position", "latitude", still_position),
    "a tilted box": (
        "tilted",
        "pitch",
        lambda c: all_day(c, "pitch", lambda v: v + math.radians(5)),
    ),
    "a bracket that gave way": ("moved", "pitch", bracket),
    "a dead pick-up": (
        "burns_at_nought",
        "engine_speed",
        lambda c: with_values(c, "engine_speed", FULL.start_s, FULL.stop_s, 0.0),
    ),
    "an engine that idles at speed": (
        "speed_without_engine",
        "engine_speed",
        lambda c: all_day(c, "engine_speed", lambda v: np.minimum(v, 12 + 0.01 * v)),
    ),
    "a speed that stays low": (
        "engine_without_speed",
        "speed",
        lambda c: all_day(c, "speed", lambda v: v * 0.02),
    ),
    "an engine log of another hour": (
        "unrelated",
        "engine_speed",
        lambda c: {**c, "engine_speed": moved_in_time(c["engine_speed"], 60)},
    ),
    "an attitude box whose battery ran out": (
        "breaks_off",
        "pitch",
        lambda c: kept(c, "pitch", lambda one: one.t_s < T0 + FULL.start_s),
    ),
    "a receiver that was switched on late": (
        "breaks_off",
        "speed",
        lambda c: kept(c, "speed", lambda one: one.t_s > T0 + FULL.stop_s),
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_each_fault_is_found(name: str, sound: Channels) -> None:
    rule, key, fault = FAULTS[name]
    found = ailments(fault(sound))
    assert (rule, key) in {(one.rule, one.channel) for one in found}, found


def test_every_rule_has_a_fault_and_every_ailment_a_rule() -> None:
    assert {rule for rule, _, _ in FAULTS.values()} == set(RULES)
    assert all(rule.why and rule.text for rule in RULES.values())


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_is_found_by_few_rules(name: str, sound: Channels) -> None:
    """A crew that is told four things of one fault looks for four faults."""
    _, key, fault = FAULTS[name]
    found = [one for one in ailments(fault(sound)) if one.channel == key]
    assert len(found) <= 2, found


@pytest.mark.parametrize("swell", [11, 12, 13, 14])
def test_a_sound_day_has_no_ailment(swell: int) -> None:
    """No false alarm on four waters with six seeds of noise each, in two strengths of
    current: 24 days."""
    day = sailed(swell, 0.2 if swell % 2 else 0.41)
    told = [(seed, one) for seed in range(6) for one in ailments(logged(day, seed))]
    assert told == []


COARSE = {
    "speed": 0.1 * 1852 / 3600,
    "engine_speed": 10 / 60,
    "fuel_flow": 0.5 / 3.6e6,
    "pitch": math.radians(0.1),
    "roll": math.radians(0.1),
    "turn_rate": math.radians(0.1),
    "acceleration": 0.05,
    "latitude": 1e-4 / 60,
    "longitude": 1e-4 / 60,
}
"""Last digits of cheap instruments (common practice, no published source)."""


@pytest.mark.parametrize("seed", range(4))
def test_a_sound_day_in_coarse_digits_has_no_ailment(seed: int) -> None:
    channels = logged(sailed(), seed)
    for key, step in COARSE.items():
        channels = all_day(channels, key, lambda v, step=step: np.round(v / step) * step)
    assert ailments(channels) == ()


def test_a_gear_and_a_lever_may_stay_where_they_are(sound: Channels) -> None:
    """A day of one long pass: the gear in ahead throughout, the lever for a minute."""
    held = {key: only(one, within(one, 64, 156)) for key, one in sound.items()}
    assert [one for one in ailments(held) if one.channel in ("gear", "throttle")] == []


def test_an_engine_that_idles_while_the_boat_runs_on_is_sound(sound: Channels) -> None:
    """The throttle closed at full speed: engine speed and flow stay at one value for 7 s."""
    for key, low in (("engine_speed", 640 / 60), ("fuel_flow", 1.2 / 3.6e6)):
        held = with_values(sound, key, FULL.start_s + 15, FULL.start_s + 22, low)
        assert [one.rule for one in ailments(held) if one.channel == key] == []


def test_what_is_found_says_where(sound: Channels) -> None:
    _, key, fault = FAULTS["engine speed frozen at full throttle"]
    (one,) = [one for one in ailments(fault(sound)) if one.channel == key]
    assert one.span is not None
    assert one.span.start_s - T0 == pytest.approx(FULL.start_s + 15, abs=0.2)
    assert one.span.length_s == pytest.approx(7, abs=0.3)
    assert "7 s" in one.text


def test_channels_without_company_are_looked_at_too(sound: Channels) -> None:
    """Speed alone, attitude alone, or nothing at all are no error."""
    for keys in ((), ("speed",), ("pitch", "roll"), ("engine_speed", "fuel_flow")):
        assert ailments({key: sound[key] for key in keys}) == ()


def test_an_empty_channel_is_no_error() -> None:
    empty = Channel(name="speed", clock=UTC, t_s=np.empty(0), values=np.empty(0))
    assert [one.rule for one in ailments({"speed": empty})] == ["no_value"]


def test_two_engines_are_told_apart(sound: Channels) -> None:
    starboard = replace(sound["engine_speed"], instance=1)
    dead = changed(starboard, starboard.values * np.nan)
    found = ailments({**sound, "engine_speed.1": dead})
    assert [(one.rule, one.channel) for one in found] == [("no_value", "engine_speed.1")]
