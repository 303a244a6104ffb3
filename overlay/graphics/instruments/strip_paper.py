"""Where everything of a strip chart stands: its paper, its scale, and its seconds."""

from __future__ import annotations

import math
from dataclasses import dataclass

from overlay.errors import FaceplateError
from overlay.graphics.instruments.bench import Bench
from overlay.graphics.instruments.scale import Scale, scale_for, scale_over
from overlay.graphics.instruments.scale_bar import STRIDES, numbered
from overlay.graphics.instruments.trace import Paper

LENGTH = 0.38
"""Width of the paper; these are shares of the short side."""

HEIGHT = 0.14
"""From the low to the high end of the scale."""

ROW_GAP = 0.034
NUMERAL_GAP = 0.012
"""Between the border scale and the words below it, and between the paper and its numerals."""

POINTER = 0.014
"""Length of the wedge beside the paper that points at the newest value."""

LEAST_PART, LEAST_TICK = 0.045, 0.012
"""Least width of a part of the border scale, and least distance of two ticks."""

WHOLE_SECONDS = (1, 2, 5, 10, 20, 30, 60)
"""What parts and ticks may stand for."""

ROOM = 1.35
"""How far apart the numerals of the scale stand at least, in heights of a numeral."""

MOST_THRESHOLDS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Geometry:
    """Where everything of a strip chart stands on its plate."""

    left_px: int
    top_px: int
    height_px: int
    paper: Paper
    part_s: float
    tick_s: float
    scale: Scale

    @property
    def bottom_px(self) -> int:
        """The foot of the paper, where the border scale begins."""
        return self.top_px + self.height_px

    def y(self, value: float) -> int:
        """The row of a value; beyond an end of the scale, of that end."""
        return round(self.bottom_px - self.scale.along(value) * self.height_px)


def _scale(bench: Bench) -> Scale:
    """The scale of the channel, with room for the thresholds unless the faceplate says it."""
    scale = scale_for(bench)
    thresholds = bench.options["thresholds"]
    if len(thresholds) > MOST_THRESHOLDS:
        raise FaceplateError(
            f"there are {len(thresholds)} thresholds, and a strip has room for {MOST_THRESHOLDS}",
            key=bench.name,
            advice="take some out",
        )
    if not thresholds:
        return scale
    low, high = min(scale.low, *thresholds), max(scale.high, *thresholds)
    if bench.options["scale"] is None:
        return scale_over(low, high)
    if (low, high) != (scale.low, scale.high):
        raise FaceplateError(
            f"a threshold lies beyond the scale, which goes from {scale.low:g} to {scale.high:g}",
            key=bench.name,
            advice="write a longer scale, or none",
        )
    return scale


def numerals(bench: Bench, scale: Scale, height_px: int) -> tuple[tuple[float, str], ...]:
    """The edges that have a numeral, as many as have room one above the other."""
    room = ROOM * bench.face("unit").cap_px
    for stride in STRIDES:
        if stride * scale.part / (scale.high - scale.low) * height_px >= room:
            break
    return numbered(bench, scale, stride)


def numerals_px(bench: Bench) -> int:
    """Breadth of the column of numerals."""
    face = bench.face("unit")
    texts = [text for _, text in numerals(bench, _scale(bench), bench.px(HEIGHT))]
    return max((face.line(text).advance_px for text in texts), default=0)


def geometry(bench: Bench, width: int) -> Geometry:
    """Where everything stands on a plate of a width."""
    left = bench.padding_px + numerals_px(bench) + bench.px(NUMERAL_GAP)
    length = width - left - bench.px(POINTER) - bench.padding_px
    seconds = bench.options["seconds"]
    part_s, tick_s = (
        next(
            (whole for whole in WHOLE_SECONDS if whole / seconds * length >= bench.px(least)),
            WHOLE_SECONDS[-1],
        )
        for least in (LEAST_PART, LEAST_TICK)
    )
    return Geometry(
        left_px=left,
        top_px=bench.padding_px + bench.face("second").cap_px + bench.px(ROW_GAP),
        height_px=bench.px(HEIGHT),
        paper=Paper(
            origin_s=math.floor(bench.subject.run.start_utc_s),
            second_px=length / seconds,
            width_px=length,
        ),
        part_s=part_s,
        tick_s=tick_s,
        scale=_scale(bench),
    )
