"""The day as a time line: what was found in it, what is in the results, and what is left out.

Runs that were found claim their stretch in order of how much they say: what the sheet names,
launches, turns, stops, then what was held steady. What is left between them is rest, idling in
gear, the way from one run to the next, or a hole in the log of speed.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right, insort
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from overlay.analysis.launches import Launch
from overlay.analysis.start import MOVING_MPS
from overlay.analysis.steady import UNDER_WAY_MPS, Steady
from overlay.analysis.steps import IDLES_RPS, Step
from overlay.analysis.stopping import Stop
from overlay.analysis.turning import Turn
from sync.channel import Channel
from sync.clock import Span

Kind = Literal[
    "launch", "step", "turn", "stop", "astern", "idle", "rest", "way", "hole", "named"
]  # fmt: skip

LEAST_S = 2.0
"""What is left of a stretch that another has cut is not told if it is shorter than this."""

BETWEEN: tuple[Kind, ...] = ("hole", "rest", "idle", "way")
"""What a boat does when she does nothing that is measured."""

_STEP_S = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A piece of the day.

    `name` is what results call it, empty where they do not; `left_out` says why nothing of it,
    or not all that it might have told, is in the results.
    """

    kind: Kind
    span: Span
    name: str = ""
    left_out: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """All runs that were found in a day."""

    launches: Sequence[Launch]
    steps: Sequence[Step]
    steady: Sequence[Steady]
    turns: Sequence[Turn]
    stops: Sequence[Stop]
    named: Sequence[tuple[str, Span]] = ()


def time_line(channels: Mapping[str, Channel], found: Found) -> tuple[Stretch, ...]:
    """The whole day, each instant once, in order; empty where no speed is logged.

    Parameters
    ----------
    channels
        By key, on UTC, timely.
    """
    speed = channels.get("speed")
    if speed is None or speed.span is None:
        return ()
    placed: list[Stretch] = []
    for stretch in _claims(found):
        for part in _clear_of(stretch, placed):
            insort(placed, part, key=lambda one: one.span.start_s)
    whole = []
    at = speed.span.start_s
    for stretch in placed:
        whole += _between(channels, Span(start_s=at, stop_s=max(at, stretch.span.start_s)))
        whole.append(stretch)
        at = max(at, stretch.span.stop_s)
    whole += _between(channels, Span(start_s=at, stop_s=max(at, speed.span.stop_s)))
    return _tidied(whole)


def _claims(found: Found) -> Iterable[Stretch]:
    """Every run with its stretch, those that say the most first."""
    yield from (Stretch(kind="named", span=span, name=name) for name, span in found.named)
    yield from (_of_launch(launch) for launch in found.launches)
    yield from (_of_turn(turn, n) for n, turn in enumerate(found.turns, start=1))
    yield from (
        Stretch(kind="stop", span=stop.span, name=f"stop {n}")
        for n, stop in enumerate(found.stops, start=1)
    )
    for step in found.steps:
        why = "one direction only: current and wind are in it" if step.ways == "single" else ""
        for run in step.passes:
            for span in run.spans:
                yield Stretch(kind="step", span=span, name=step.name, left_out=why)
    yield from (_of_steady(one) for one in found.steady)


def _of_launch(launch: Launch) -> Stretch:
    why = ""
    if launch.aired_s:
        after = ", ".join(f"{t - launch.start.t_s:.1f} s" for t in launch.aired_s)
        why = f"the propeller drew air {after} after the start"
    if launch.broken:
        why = "interrupted: the log of speed breaks off in it"
    return Stretch(kind="launch", span=launch.span, name=launch.name, left_out=why)


def _of_turn(turn: Turn, number: int) -> Stretch:
    why = ""
    if turn.held is None:
        why = f"{math.degrees(turn.swept_rad):.0f}° is no circle: half a turn and more is needed"
    elif turn.broken:
        why = "the log of turning breaks off where it begins"
    elif turn.aired:
        why = "the propeller drew air"
    return Stretch(kind="turn", span=turn.span, name=f"turn {number} to {turn.to}", left_out=why)


def _of_steady(one: Steady) -> Stretch:
    """Steady stretches that no step has: rest, astern, and idling in gear."""
    if one.kind != "step":
        return Stretch(kind=one.kind, span=one.span)
    slow = one.speed_mps < UNDER_WAY_MPS
    if one.engine_speed_rps < IDLES_RPS or (slow and math.isnan(one.engine_speed_rps)):
        return Stretch(kind="idle", span=one.span)
    why = "too slow to have a course" if slow else ""
    return Stretch(kind="way", span=one.span, left_out=why)


def _clear_of(stretch: Stretch, placed: list[Stretch]) -> list[Stretch]:
    """What of a stretch others have not claimed, which lie in order and apart."""
    left = [stretch.span]
    first = bisect_right(placed, stretch.span.start_s, key=lambda one: one.span.start_s) - 1
    last = bisect_left(placed, stretch.span.stop_s, key=lambda one: one.span.start_s)
    for other in placed[max(first, 0) : last]:
        left = [part for span in left for part in _less(span, other.span)]
    return [replace(stretch, span=span) for span in left if span.length_s >= LEAST_S]


def _less(span: Span, other: Span) -> list[Span]:
    """A span without what another has of it."""
    both = span.overlap(other)
    if both is None:
        return [span]
    ends = ((span.start_s, both.start_s), (both.stop_s, span.stop_s))
    return [Span(start_s=low, stop_s=high) for low, high in ends if high > low]


def _between(channels: Mapping[str, Channel], gap: Span) -> list[Stretch]:
    """What the boat did between two runs, by speed, gear and engine."""
    if gap.length_s <= 0:
        return []
    t = np.arange(gap.start_s, gap.stop_s, _STEP_S)
    speed = channels["speed"].at(t)
    gear = channels["gear"].at(t) if "gear" in channels else np.full(t.size, np.nan)
    with np.errstate(invalid="ignore"):
        slow = speed < UNDER_WAY_MPS
        lies = slow & ((np.abs(gear) < 0.5) | (np.isnan(gear) & (speed < MOVING_MPS)))
    hole = ~np.isfinite(speed)
    which = np.select([hole, lies, slow], [0, 1, 2], default=3)
    edges = [0, *(np.flatnonzero(which[1:] != which[:-1]) + 1).tolist(), t.size]
    return [
        Stretch(
            kind=BETWEEN[int(which[first])],
            span=Span(
                start_s=float(t[first]), stop_s=gap.stop_s if last >= t.size else float(t[last])
            ),
        )
        for first, last in pairwise(edges)
    ]


def _tidied(line: list[Stretch]) -> tuple[Stretch, ...]:
    """Without the flicker between kinds: pieces of one kind are one, and what is nothing and
    shorter than two seconds goes to what came before it."""
    out: list[Stretch] = []
    for one in line:
        idle = one.kind in ("rest", "idle", "way") and not one.left_out
        brief = idle and one.span.length_s < LEAST_S
        same = out and (one.kind, one.name, one.left_out) == (
            out[-1].kind, out[-1].name, out[-1].left_out
        )  # fmt: skip
        if out and out[-1].kind != "hole" and (brief or (same and idle)):
            before = out.pop()
            out.append(
                replace(before, span=Span(start_s=before.span.start_s, stop_s=one.span.stop_s))
            )
        else:
            out.append(one)
    return tuple(out)
