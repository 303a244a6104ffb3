"""What channels of one boat say against each other."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span
from sync.health.frozen import frozen_ailments
from sync.health.rules import Ailment
from sync.health.stretches import GRID_S, Flags, common_grid, known, lasting, same_value

AT_REST_MPS, AT_REST_RPS, AT_REST_S = 1.0, 1200 / 60, 10.0
"""A boat is at rest below these for so long; a current may carry it along."""

TILT_RAD = {"pitch": math.radians(4.0), "roll": math.radians(3.0)}
MOVED_RAD = {"pitch": math.radians(2.0), "roll": math.radians(4.0)}

POSITION_S, POSITION_MPS = 3.0, 1.5
STOPPED_RPS, BURNS_S, BURNS_M3PS = 1.0, 5.0, 0.5e-3 / 3600
FAST_MPS, IDLES_RPS, FAST_S = 6.0, 900 / 60, 10.0
REVS_RPS, SLOW_MPS, REVS_S = 3000 / 60, 1.0, 10.0
RELATED_S, RELATED_LEAST = 60.0, 0.5
RELATED_SPEED_SD, RELATED_ENGINE_SD = 2.0, 500 / 60
SAILS_MPS, SAILS_S = 3.0, 5.0

VITAL = ("speed", "engine_speed", "fuel_flow", "pitch", "roll", "acceleration", "turn_rate")
"""Channels that have something to say for as long as the boat is under way."""


def joint_ailments(channels: Mapping[str, Channel]) -> tuple[Ailment, ...]:
    """What is wrong with channels that stand on one clock.

    Parameters
    ----------
    channels
        By key, all of one boat.
    """
    found = frozen_ailments(channels)
    found += _frozen_position(channels)
    found += _levels(channels)
    dead = _burns(channels)
    # What a dead pick-up does to the other rules is told by itself.
    named = {one.channel for one in dead}
    rest = [*found, *_engines(channels), *_broken_off(channels)]
    return (*dead, *(one for one in rest if one.channel not in named))


def _frozen_position(channels: Mapping[str, Channel]) -> list[Ailment]:
    speed = channels.get("speed")
    if speed is None or not {"latitude", "longitude"} <= set(channels):
        return []
    still = [span for span, _ in same_value(channels["latitude"], POSITION_S, 3)]
    also = [span for span, _ in same_value(channels["longitude"], POSITION_S, 3)]
    shared = [both for one in still for other in also if (both := one.overlap(other))]
    found = [
        both
        for both in shared
        if both.length_s >= POSITION_S and _mean(speed, both) >= POSITION_MPS
    ]
    if not found:
        return []
    worst = max(found, key=lambda span: span.length_s)
    text = (
        f"stays, and longitude with it, for {worst.length_s:.1f} s at a speed of "
        f"{_mean(speed, worst):.1f} m/s"
    )
    return [Ailment(rule="frozen_position", channel="latitude", text=text, span=worst)]


def rests(channels: Mapping[str, Channel]) -> list[Span]:
    """Where the boat lies still, its engine idling at most."""
    speed = channels.get("speed")
    if speed is None:
        return []
    grid = common_grid(channels, "speed")
    with np.errstate(invalid="ignore"):
        still = speed.at(grid) < AT_REST_MPS
        if "engine_speed" in channels:
            still &= ~(channels["engine_speed"].at(grid) > AT_REST_RPS)
    return lasting(still, grid, AT_REST_S)


def _levels(channels: Mapping[str, Channel]) -> list[Ailment]:
    """Attitude sensors that are not level at rest, or not as level as before."""
    found = []
    quiet = rests(channels)
    for key in ("pitch", "roll"):
        levels = [level for span in quiet if math.isfinite(level := _level(channels, key, span))]
        if not levels:
            continue
        level = float(np.median(levels))
        if abs(level) > TILT_RAD[key]:
            text = f"stands at {math.degrees(level):+.1f}° when the boat is at rest"
            found.append(Ailment(rule="tilted", channel=key, text=text))
        if max(levels) - min(levels) > MOVED_RAD[key]:
            low, high = math.degrees(min(levels)), math.degrees(max(levels))
            text = f"at rest stands at {low:+.1f}° once and at {high:+.1f}° another time"
            found.append(Ailment(rule="moved", channel=key, text=text))
    return found


def _level(channels: Mapping[str, Channel], key: str, span: Span) -> float:
    return _mean(channels[key], span) if key in channels else math.nan


def _burns(channels: Mapping[str, Channel]) -> list[Ailment]:
    found = []
    for key, flow in channels.items():
        engine = key.replace("fuel_flow", "engine_speed")
        if flow.name != "fuel_flow" or engine not in channels:
            continue
        grid = common_grid(channels, key, engine)
        with np.errstate(invalid="ignore"):
            flags = (channels[engine].at(grid) < STOPPED_RPS) & (flow.at(grid) > BURNS_M3PS)
        text = "is nought for {s:.0f} s, while fuel flows"
        found += _first(flags, grid, BURNS_S, "burns_at_nought", engine, text)
    return found


def _engines(channels: Mapping[str, Channel]) -> list[Ailment]:
    """Speed and engine speed against each other, over all engines together."""
    keys = [key for key, channel in channels.items() if channel.name == "engine_speed"]
    if not keys or "speed" not in channels:
        return []
    grid = common_grid(channels, "speed", *keys)
    if grid.size == 0:
        return []
    speed = channels["speed"].at(grid)
    turning = np.max([channels[key].at(grid) for key in keys], axis=0)
    geared = channels["gear"].at(grid) if "gear" in channels else np.ones(grid.shape)
    with np.errstate(invalid="ignore"):
        idle = (speed > FAST_MPS) & (turning < IDLES_RPS)
        stays = (turning > REVS_RPS) & (speed < SLOW_MPS) & ~(np.abs(geared) < 0.5)
    together = _correlation(speed, turning)
    if math.isfinite(together) and together < RELATED_LEAST:
        text = f"does not rise and fall with speed (correlation {together:.2f})"
        return [Ailment(rule="unrelated", channel=keys[0], text=text)]
    or_so = "" if "gear" in channels else ", or was revved out of gear"
    text = "is below 900 rpm for {s:.0f} s, while the boat is fast"
    found = _first(idle, grid, FAST_S, "speed_without_engine", keys[0], text)
    text = "stays at nought for {s:.0f} s, while the engine turns at 3000 rpm and more" + or_so
    return found + _first(stays, grid, REVS_S, "engine_without_speed", "speed", text)


def _correlation(speed: Floats, turning: Floats) -> float:
    """Pearson's, over all instants at which both have a value; NaN where one hardly varies.

    Not that of ranks: a day has more rest than runs, and at rest the order of values is noise.
    """
    both = np.isfinite(speed) & np.isfinite(turning)
    speed, turning = speed[both], turning[both]
    if speed.size * 0.2 < RELATED_S:
        return math.nan
    if np.std(speed) < RELATED_SPEED_SD or np.std(turning) < RELATED_ENGINE_SD:
        return math.nan
    return float(np.corrcoef(speed, turning)[0, 1])


def _broken_off(channels: Mapping[str, Channel]) -> list[Ailment]:
    """Channels that begin or end while another shows that the boat is under way."""
    by_speed = _stretches_above(channels.get("speed"), SAILS_MPS)
    by_engine = _stretches_above(channels.get("engine_speed"), REVS_RPS)
    found = []
    for key, channel in channels.items():
        span = channel.span
        if channel.name not in VITAL or span is None:
            continue
        sails = by_engine if key == "speed" else by_speed
        before = sum(max(0.0, min(s.stop_s, span.start_s) - s.start_s) for s in sails)
        after = sum(max(0.0, s.stop_s - max(s.start_s, span.stop_s)) for s in sails)
        for missed_s, word, at in (
            (before, "begins late", span.start_s),
            (after, "ends early", span.stop_s),
        ):
            if missed_s >= SAILS_S:
                text = f"{word}, and misses {missed_s:.0f} s under way"
                there = Span(start_s=at, stop_s=at)
                found.append(Ailment(rule="breaks_off", channel=key, text=text, span=there))
    return found


def _stretches_above(channel: Channel | None, least: float) -> list[Span]:
    if channel is None or channel.span is None:
        return []
    grid = np.arange(channel.span.start_s, channel.span.stop_s, GRID_S)
    with np.errstate(invalid="ignore"):
        return lasting(channel.at(grid) >= least, grid, SAILS_S)


def _first(
    flags: Flags, grid: Floats, least_s: float, rule: str, channel: str, text: str
) -> list[Ailment]:
    """The longest stretch in which flags hold, as an ailment."""
    stretches = lasting(flags, grid, least_s)
    if not stretches:
        return []
    span = max(stretches, key=lambda one: one.length_s)
    return [Ailment(rule=rule, channel=channel, text=text.format(s=span.length_s), span=span)]


def _mean(channel: Channel, span: Span) -> float:
    _, values = known(channel.cut(span))
    return float(np.mean(values)) if values.size else math.nan
