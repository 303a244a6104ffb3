"""Shared motion: two logs on different clocks, tied by what both felt.

An engine log has no position and a receiver no engine speed, but when the throttle opens the
boat gathers way. Every pair of channels in `PAIRINGS` is held against each other at every
offset that the logs allow (`motion.fit` has the law), with the channels' delays taken out.

How it can mislead: one launch looks like another, on any day. So the evidence must rest on
several events whose spacing fits, must explain most of the motion, and no other offset may do
nearly as well. What remains unknown is stated apart in the clue's text, and each part is
counted once:

::

    sd² = motion² + physics² + delays²

motion from the curvature of the misfit, physics from what the two quantities themselves lag
behind each other, delays from the doubt about the delays of the channels (`delay_sd_s`).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from sync.channel import Channel
from sync.clock import UTC
from sync.clue import Clue, Doubt, Finding, delay_doubt
from sync.clues.motion.fit import refine
from sync.clues.motion.pairings import PAIRINGS, Pairing
from sync.clues.motion.search import search
from sync.clues.motion.signals import (
    Motion,
    Series,
    half_window_s,
    instants,
    on_grid,
    slope,
    smoothed,
)

LEAST_R2 = 0.1
"""Share of the fast motion that must be explained at the best offset, beyond what the effect's
own state explains, to look closer; noise of a derivative is much of what is fast."""

LEAST_EVIDENCE = 6.0
"""Least of events · R² / (1 − R²). Days that have nothing to do with each other reach 5 in
tests/bench/accuracy_sync.py, by few events that fit well or many that fit badly."""

LEAST_EVENTS = 4.0
LEAST_EVENTS_ALIKE = 2.0
"""Independent events that must fit by their spacing. Fewer will do where both channels measure
one quantity, so that the size and the shape of each event count too."""

ALIKE = (0.25, 1.4)
"""What one unit of the cause may do to the effect where both measure one quantity: noise in the
cause makes it seem to do less."""

MOST_OF_BEST = 0.45
"""Share of the best gain from which on another offset is nearly as good."""

MOST_SD_S = 0.12
"""A shift less sure than this is that of events which only look alike (own choice: those of
one day give some hundredths of a second)."""

LONGEST_S = 12 * 3600.0
"""A day's log is shorter; a longer one is two days', and would take gigabytes to compare."""

AGREE_SDS = 4.0
"""Pairs of channels that differ by more than this contradict each other."""

FAST_WINDOWS = 4.0
"""Half the stretch whose mean is taken off what is compared, over the smoothing's half width."""

UNDER_WAY_MPS = 2.5
"""Slower than this a course over ground is noise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reading:
    """What one pair of channels says: ``t_to = t_from + offset_s``, and how sure that is."""

    text: str
    offset_s: float
    motion_sd_s: float
    physics_sd_s: float
    delay_sd_s: float
    at_s: float
    events: float
    r2: float
    doubts: tuple[Doubt, ...]

    @property
    def sd_s(self) -> float:
        return math.hypot(self.motion_sd_s, self.physics_sd_s, self.delay_sd_s)


def shared_motion_clues(channels: Sequence[Channel]) -> Finding:
    """A clue for every two clocks whose logs felt the same motion.

    Parameters
    ----------
    channels
        The channels of all logs on their own clocks, each with what is known of its delay.
    """
    by_clock: dict[str, list[Channel]] = defaultdict(list)
    for channel in channels:
        if np.count_nonzero(np.isfinite(channel.values)) > 2:
            by_clock[channel.clock].append(channel)
    finding = Finding()
    for one, other in combinations(sorted(by_clock, key=lambda c: (c == UTC, c)), 2):
        finding += _between(by_clock[one], by_clock[other])
    return finding


def _between(ours: list[Channel], theirs: list[Channel]) -> Finding:
    """What the motion in the logs of two clocks says of their offset."""
    readings: list[_Reading] = []
    reasons: list[str] = []
    for pairing in PAIRINGS:
        for cause, effect, ahead in _matches(pairing, ours, theirs):
            said = _read(pairing, cause, effect, ours if not ahead else theirs, ahead=ahead)
            if isinstance(said, str):
                reasons.append(f"{pairing.text}: {said}")
            else:
                readings.append(said)
    clocks = f"{_name(ours[0].clock)} and {_name(theirs[0].clock)}"
    if not readings:
        return Finding(remarks=(_unsettled(clocks, reasons),) if reasons else ())
    best = min(readings, key=lambda one: one.sd_s)
    for one in readings:
        if abs(one.offset_s - best.offset_s) > AGREE_SDS * math.hypot(one.sd_s, best.sd_s):
            told = (
                f"{best.text} put them {best.offset_s:.2f} s apart and {one.text} "
                f"{one.offset_s:.2f} s"
            )
            return Finding(remarks=(_unsettled(clocks, [told]),))
    return Finding(clues=(_clue(best, readings, ours[0].clock, theirs[0].clock),))


def _unsettled(clocks: str, reasons: list[str]) -> str:
    return (
        f"{clocks}: their motion does not tie them ({'; '.join(reasons)}); a mark that both "
        "logs have, or three launches or more at uneven intervals, would settle it"
    )


def _clue(best: _Reading, readings: list[_Reading], one: str, other: str) -> Clue:
    """The surest reading as a clue; the rest agree with it and share its noise, so that
    nothing is gained by averaging."""
    more = "".join(f", agreed by {r.text}" for r in readings if r is not best)
    return Clue(
        kind="shared_motion",
        from_clock=one,
        to_clock=other,
        offset_s=best.offset_s,
        sd_s=best.sd_s,
        at_s=best.at_s,
        doubts=best.doubts,
        text=(
            f"{best.text}: {best.events:.0f} events, {best.r2:.0%} explained, "
            f"± {math.hypot(best.motion_sd_s, best.physics_sd_s):.3f} s from the motion and "
            f"± {best.delay_sd_s:.3f} s from the channels' delays{more}"
        ),
    )


def _name(clock: str) -> str:
    kind, _, name = clock.partition(":")
    return f"the log {name!r}" if kind == "log" else clock.upper() if clock == UTC else clock


def _matches(
    pairing: Pairing, ours: list[Channel], theirs: list[Channel]
) -> list[tuple[Channel, Channel, bool]]:
    """Cause and effect of a pairing, and whether the cause is ours."""
    found = []
    for ahead, here, there in ((True, ours, theirs), (False, theirs, ours)):
        cause, effect = _first(here, pairing.cause), _first(there, pairing.effect)
        if cause is not None and effect is not None:
            found.append((cause, effect, ahead))
        if pairing.cause == pairing.effect:
            break  # the other way around would say the same
    return found


def _first(channels: list[Channel], name: str) -> Channel | None:
    """The channel of a name with the lowest instance; of several logs' the one most sampled."""
    mine = [channel for channel in channels if channel.name == name]
    return min(mine, key=lambda c: (c.instance, -c.t_s.size)) if mine else None


def _read(
    pairing: Pairing, cause: Channel, effect: Channel, beside: list[Channel], *, ahead: bool
) -> _Reading | str:
    """What one pair of channels says, or why it says nothing."""
    for channel in (cause, effect):
        if float(np.ptp(channel.t_s)) > LONGEST_S:
            return f"the {_words(channel.name)} goes on for more than {LONGEST_S / 3600:.0f} h"
    half = half_window_s(cause, effect)
    level = on_grid(effect)
    if pairing.under_way and (speed := _first(beside, "speed")) is not None:
        moving = speed.timely().at(instants(level)) >= UNDER_WAY_MPS
        level = Series(start_s=level.start_s, values=np.where(moving, level.values, np.nan))
    motion = Motion(
        cause=_shape(on_grid(cause), half, slope_of=pairing.cause_slope),
        effect=_shape(level, half, slope_of=pairing.effect_slope),
        state=smoothed(level, half),
        own=pairing.own,
        joint=pairing.joint,
        fast_s=FAST_WINDOWS * half,
    )
    if (still := _too_still(pairing, motion)) is not None:
        return still
    return _judge(pairing, motion, cause, effect, ahead=ahead)


def _words(channel: str) -> str:
    return channel.replace("_", " ")


def _shape(series: Series, half_s: float, *, slope_of: bool) -> Series:
    return slope(series, half_s) if slope_of else smoothed(series, half_s)


def _too_still(pairing: Pairing, motion: Motion) -> str | None:
    """Why there is too little motion to compare, or None where there is enough."""
    values = motion.state.values[np.isfinite(motion.state.values)]
    if values.size == 0:
        return f"the {_words(pairing.effect)} has no stretch without holes"
    low, high = np.percentile(values, (2, 98))
    if high - low >= pairing.least:
        return None
    return f"the {_words(pairing.effect)} hardly changes"


def _judge(
    pairing: Pairing, motion: Motion, cause: Channel, effect: Channel, *, ahead: bool
) -> _Reading | str:
    """The best offset of one pair of channels, or why it is not to be trusted."""
    peaks = search(motion)
    if not peaks:
        return "no offset makes one follow the other"
    best = peaks[0]
    sign = -1.0 if ahead else 1.0
    if best.r2 < LEAST_R2:
        return f"at the best of all offsets {best.r2:.0%} of the motion is explained"
    if len(peaks) > 1 and peaks[1].gain > MOST_OF_BEST * best.gain:
        one, other = (sign * (peak.shift_s + pairing.lag_s) for peak in peaks)
        return f"offsets of {one:.1f} s and {other:.1f} s fit nearly as well as each other"
    fit = refine(motion, best.shift_s)
    low, high = ALIKE if pairing.alike else (0.0, math.inf)
    if fit is None or not low < fit.scale < high or fit.sd_s > MOST_SD_S:
        return "single events are only like each other and set no offset"
    least = LEAST_EVENTS_ALIKE if pairing.alike else LEAST_EVENTS
    if fit.events < least or fit.events * fit.r2 < LEAST_EVIDENCE * (1 - fit.r2):
        return (
            f"{fit.events:.1f} events, {fit.r2:.0%} explained, are no more than chance could "
            "bring about"
        )
    return _Reading(
        text=pairing.text,
        offset_s=sign * (fit.shift_s + pairing.lag_s),
        motion_sd_s=fit.sd_s,
        physics_sd_s=pairing.lag_sd_s,
        delay_sd_s=math.hypot(cause.delay_sd_s, effect.delay_sd_s),
        at_s=fit.middle_s if ahead else fit.middle_s - fit.shift_s,
        events=fit.events,
        r2=fit.r2,
        doubts=(
            *delay_doubt(cause, -1.0 if ahead else 1.0),
            *delay_doubt(effect, 1.0 if ahead else -1.0),
        ),
    )
