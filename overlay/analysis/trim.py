"""Running trim by speed: how far the bow stands above its level at rest, step by step."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from overlay.analysis.means import NONE, Mean, mean_of
from overlay.analysis.steady import Steady
from overlay.analysis.steps import Step, both_ways
from sync.clock import Span
from sync.log import Channel

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
    return tuple(
        both_ways(
            [_above(run.pitch, _level_before(levels, run.span.start_s)) for run in step.passes],
            [run.way for run in step.passes],
        )
        for step in steps
    )


def _level_before(levels: Sequence[tuple[Span, Mean]], t_s: float) -> Mean:
    before = [
        level for span, level in levels if level.known and t_s - MOST_AGO_S <= span.stop_s <= t_s
    ]
    return before[-1] if before else NONE


def _above(pitch: Mean, level: Mean) -> Mean:
    if not (pitch.known and level.known):
        return NONE
    return Mean(value=pitch.value - level.value, sd=math.hypot(pitch.sd, level.sd))
