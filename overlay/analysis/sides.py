"""Two engines: whether port and starboard are what the logs call them.

A boat that one engine alone drives ahead is pushed on that engine's side and turns to the other,
port engine to starboard (common practice, no published source; for two screws, each on a shaft
line of its own). So a stretch on one engine tells the sides, unless the helm was held
against it or made the turn itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from overlay.analysis.means import NONE, Mean, average, mean_of
from overlay.analysis.start import IDLE_LEAST_RPS
from overlay.analysis.steady import LEAST_S, UNDER_WAY_MPS, Flags
from overlay.analysis.steps import IDLES_RPS, keys
from overlay.analysis.turning import turn_rate
from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span

DRIVES_RPS = 1.25 * IDLES_RPS
"""An engine drives from this speed on (own choice: a quarter above what still counts as idling)."""

LEAST_TURN_RADPS = math.radians(0.5)
"""What is slower than this may be the wind's doing or a helm's (own choice)."""

MOST_TURN_RADPS = math.radians(6.0)
"""What is faster than this the helm has done, unless it is logged and says otherwise (own choice:
half a planing boat's turn)."""

CENTRED_RAD = math.radians(3.0)
"""A rudder within this of the middle is held against nothing, nor does it turn the boat (own
choice)."""

SETTLES_S = 2.0
"""So long after the other engine has stopped driving the boat does not yet answer (own choice)."""

NAMES = ("port", "starboard")

_STEP_S = 0.25

Verdict = Literal["confirmed", "contradicted", "cannot be told"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OneEngine:
    """A stretch on one engine alone.

    `engine` is what the log calls the engine that drove: `port` or `starboard`. `turn` is the mean
    rate of turn in rad/s, positive to starboard; `counts` says whether it tells anything, and
    `why_not` what speaks against it.
    """

    span: Span
    engine: str
    turn: Mean
    counts: bool
    why_not: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """Which engine is which.

    `turn` is the mean rate [rad/s] away from the engine that drove, over the stretches that count:
    positive where the sides are as the logs have them. `why` says on what that rests.
    """

    verdict: Verdict
    turn: Mean
    stretches: tuple[OneEngine, ...]
    why: str


def which_sides(channels: Mapping[str, Channel], engines: int) -> Sides | None:
    """Whether a boat's two engines are on the sides that the logs have them on.

    Parameters
    ----------
    channels
        By key, on UTC, timely.
    engines
        How many the sheet has.

    Returns
    -------
    None for a boat that does not have two engines.
    """
    pair = keys(channels, "engine_speed", engines)
    if len(pair) != len(NAMES):
        return None
    silent = [name for name, key in zip(NAMES, pair, strict=True) if key not in channels]
    if silent:
        return _untold(f"no engine speed is logged of the {' and the '.join(silent)} engine")
    turning = _turning(channels)
    if turning is None:
        return _untold("neither rate of turn, nor heading, nor course is logged often enough")
    found = tuple(_stretches(channels, pair, turning))
    if not found:
        return _untold(f"no stretch of {LEAST_S:.0f} s and more was run ahead on one engine alone")
    return _judged(found)


def sides_warning(sides: Sides | None) -> tuple[str, ...]:
    """What a person must look at, where the boat turned the wrong way."""
    if sides is None or sides.verdict != "contradicted":
        return ()
    exchanged = "port and starboard engines may be exchanged in the logs"
    return (f"{exchanged}: {sides.why}, and an engine pushes her to the other",)


def sides_untold(sides: Sides | None) -> tuple[str, ...]:
    """Why it cannot be told which engine is which, where that is so."""
    if sides is None or sides.verdict != "cannot be told":
        return ()
    return (f"which engine is port and which starboard cannot be told: {sides.why}",)


def _untold(why: str, found: tuple[OneEngine, ...] = ()) -> Sides:
    return Sides(verdict="cannot be told", turn=NONE, stretches=found, why=why)


def _judged(found: tuple[OneEngine, ...]) -> Sides:
    """The verdict of the stretches that count, if they agree."""
    away = [_away(one) for one in found if one.counts]
    if not away:
        return _untold("; ".join(dict.fromkeys(one.why_not for one in found)), found)
    right = sum(1 for turn in away if turn.value > 0)
    if 0 < right < len(away):
        return _untold(
            f"run {len(away)} times ahead on one engine alone, she turned away from its side "
            f"{right} times and to it {len(away) - right} times, so the helm turned her",
            found,
        )
    turn = average(away)
    times = "once" if len(away) == 1 else f"{len(away)} times"
    return Sides(
        verdict="confirmed" if right else "contradicted",
        turn=turn,
        stretches=found,
        why=(
            f"run {times} ahead on one engine alone, she turned "
            f"{'away from' if right else 'to'} the side that the log has it on, by "
            f"{_degrees(turn)}°/s in the mean"
        ),
    )


def _degrees(turn: Mean) -> str:
    """A rate in whole degrees, or in tenths where it is known to those."""
    return f"{math.degrees(abs(turn.value)):.{0 if math.degrees(turn.sd) > 0.1 else 1}f}"


def _away(one: OneEngine) -> Mean:
    """The turn away from the engine that drove: the port one turns her to starboard."""
    way = 1.0 if one.engine == NAMES[0] else -1.0
    return Mean(value=way * one.turn.value, sd=one.turn.sd)


def _turning(channels: Mapping[str, Channel]) -> Channel | None:
    """Rate of turn as logged, else by heading, else by course."""
    if (rate := turn_rate(channels)) is not None:
        return rate
    course = channels.get("course")
    return turn_rate({"heading": replace(course, name="heading")}) if course is not None else None


def _stretches(
    channels: Mapping[str, Channel], pair: list[str], turning: Channel
) -> Iterator[OneEngine]:
    """All stretches on one engine alone, in order."""
    speeds = [channels[key] for key in pair]
    spans = [span for channel in speeds if (span := channel.span) is not None]
    if len(spans) != len(pair):
        return
    t = np.arange(max(s.start_s for s in spans), min(s.stop_s for s in spans), _STEP_S)
    drives = [_drives(channels, n, t) for n in range(len(pair))]
    found = []
    for n, name in enumerate(NAMES):
        alone = drives[n] & _idle(channels, 1 - n, t)
        edges = np.flatnonzero(np.diff(np.r_[0, alone.astype(int), 0])).reshape(-1, 2)
        for first, last in edges.tolist():
            if (last - first - 1) * _STEP_S >= LEAST_S:
                span = Span(start_s=float(t[first]) + SETTLES_S, stop_s=float(t[last - 1]))
                found.append(_measured(channels, turning, name, span))
    yield from sorted(found, key=lambda one: one.span.start_s)


def _at(channels: Mapping[str, Channel], name: str, number: int, t: Floats) -> Floats:
    """An engine's channel at some instants; NaN where it is not logged."""
    channel = channels.get(f"{name}.{number}" if number else name)
    return np.full(t.shape, np.nan) if channel is None else channel.at(t)


def _drives(channels: Mapping[str, Channel], number: int, t: Floats) -> Flags:
    """Where an engine drives ahead; without its gear, where she makes way."""
    gear = _at(channels, "gear", number, t)
    speed = _at(channels, "speed", 0, t)
    with np.errstate(invalid="ignore"):
        ahead = (gear > 0.5) | (np.isnan(gear) & (speed >= UNDER_WAY_MPS))
        return np.asarray(ahead & (_at(channels, "engine_speed", number, t) >= DRIVES_RPS))


def _idle(channels: Mapping[str, Channel], number: int, t: Floats) -> Flags:
    """Where an engine is stopped, in neutral or idling; a hole in its log is none of these."""
    turns, gear = (_at(channels, name, number, t) for name in ("engine_speed", "gear"))
    with np.errstate(invalid="ignore"):
        idles = (turns < IDLE_LEAST_RPS) | (turns < IDLES_RPS) & ~(gear < -0.5)
        return np.asarray(np.isfinite(turns) & (idles | (np.abs(gear) < 0.5)))


def _measured(
    channels: Mapping[str, Channel], turning: Channel, engine: str, span: Span
) -> OneEngine:
    turn = mean_of(turning, span)
    helm = mean_of(channels.get("rudder"), span)
    why_not = ""
    if not turn.known:
        why_not = "how she turned on one engine is not logged without a hole"
    elif helm.known and abs(helm.value) > CENTRED_RAD:
        why_not = f"on one engine alone the helm was held {math.degrees(abs(helm.value)):.0f}° over"
    elif abs(turn.value) < max(LEAST_TURN_RADPS, 1.96 * turn.sd):
        why_not = "on one engine alone she hardly turned, so the helm may have been held against it"
    elif not helm.known and abs(turn.value) > MOST_TURN_RADPS:
        why_not = "on one engine alone she turned as fast as a helm turns her, and none is logged"
    return OneEngine(span=span, engine=engine, turn=turn, counts=not why_not, why_not=why_not)
