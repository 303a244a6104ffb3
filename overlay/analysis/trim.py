"""Running trim by speed: how far the bow stands above its level at rest, step by step."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from overlay.analysis.means import NONE, Mean, mean_of
from overlay.analysis.steady import Steady
from overlay.analysis.steps import Step, both_ways
from sync.channel import Channel
from sync.clock import Span

MOST_AGO_S = 1800.0
"""A rest longer ago than this says little of how she lies now: fuel burns and people move (own
choice)."""


def running_trims(
    channels: Mapping[str, Channel], steady: Sequence[Steady], steps: Sequence[Step]
) -> tuple[Mean, ...]:
    """The running trim of each step [rad], bow up positive; none where pitch, or a rest before
    it, was not logged.

    Each pass is held against the last rest before it, so that the sensor's mounting drops out.
    """
    pitch = channels.get("pitch")
    if pitch is None:
        return tuple(NONE for _ in steps)
    levels = [(one.span, mean_of(pitch, one.span)) for one in steady if one.kind == "rest"]
    return tuple(_trim(step, levels) for step in steps)


def _trim(step: Step, levels: Sequence[tuple[Span, Mean]]) -> Mean:
    """One step's, its passes both ways counted alike, the doubt of a rest that several of them
    are held against counted once."""
    ways = [run.way for run in step.passes]
    rests = [_rest_before(levels, run.span.start_s) for run in step.passes]
    pitch = both_ways([run.pitch for run in step.passes], ways)
    level = both_ways([NONE if rest is None else rest[1] for rest in rests], ways)
    if not (pitch.known and level.known):
        return NONE
    parts: dict[float, float] = {}
    for n, rest in enumerate(rests):
        assert rest is not None  # or there was no level
        alone = [Mean(value=float(k == n), sd=0.0) for k in range(len(rests))]
        share = both_ways(alone, ways).value * rest[1].sd
        parts[rest[0].start_s] = parts.get(rest[0].start_s, 0.0) + share
    return Mean(value=pitch.value - level.value, sd=math.hypot(pitch.sd, *parts.values()))


def _rest_before(levels: Sequence[tuple[Span, Mean]], t_s: float) -> tuple[Span, Mean] | None:
    before = [
        (span, level)
        for span, level in levels
        if level.known and t_s - MOST_AGO_S <= span.stop_s <= t_s
    ]
    return before[-1] if before else None
