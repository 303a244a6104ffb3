"""Two engines on one plate: which channel stands on which side, and parts that share a plate."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from overlay.figures import figure_of
from overlay.graphics import shapes
from overlay.graphics.instruments.base import Look, Part
from overlay.graphics.instruments.bench import FRAME_INSET, Bench, Box
from overlay.graphics.instruments.scale import Scale, scale_for, scale_over
from overlay.graphics.instruments.sketch import Sketch
from overlay.graphics.layer import Layer

LETTERS = (("port", "P"), ("starboard", "S"))
"""What the ledger calls the two numbers, and the letters that tell them apart on the picture."""

CHANNELS = ("engine_speed", "fuel_flow", "throttle")
"""What each of two engines has of its own."""

UNIT_GAP = 0.02
"""Least distance of label and unit in the head, as a share of the short side."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Side:
    """One of the two: what the ledger calls it, its letter, and a bench that has its channel."""

    item: str
    letter: str
    bench: Bench


def sides(bench: Bench) -> tuple[Side, ...]:
    """Port and starboard, by the engines that the subject says are there.

    Both are written with the digits of the one that was logged more coarsely: two numbers
    side by side are read against each other.
    """
    name = bench.channel.partition(".")[0]
    keys = [name if engine == 0 else f"{name}.{engine}" for engine in bench.subject.sides]
    signals = [bench.subject.signals.get(key) for key in keys]
    steps = [figure_of(one.channel, bench.subject.units).step for one in signals if one]
    figure = replace(bench.how, step=max(steps, default=bench.how.step))
    return tuple(
        Side(
            item=item,
            letter=letter,
            bench=replace(bench, channel=key, signal=signal, figure=figure),
        )
        for (item, letter), key, signal in zip(LETTERS, keys, signals, strict=True)
    )


def common_scale(pair: tuple[Side, ...]) -> Scale:
    """The scale that holds both sides; one that never had a value does not stretch it."""
    held = [
        side.bench
        for side in pair
        if side.bench.signal and np.isfinite(side.bench.signal.channel.values).any()
    ]
    scales = [scale_for(bench) for bench in held] or [scale_for(pair[0].bench)]
    return scale_over(min(one.low for one in scales), max(one.high for one in scales))


def shared_plate(sketch: Sketch, whole: Box) -> None:
    """What a part has of a plate that several parts make up together."""
    bench, (left, top, width, height) = sketch.bench, sketch.box
    sketch.fill(shapes.rectangle(0, 0, width, height), "ink", bench.theme.opacity)
    inset, line = bench.px(FRAME_INSET), bench.hairline_px
    x, y = whole[0] - left + inset, whole[1] - top + inset
    across, down = whole[2] - 2 * inset, whole[3] - 2 * inset
    for mask in (
        shapes.rectangle(x, y, across, line),
        shapes.rectangle(x, y + down - line, across, line),
        shapes.rectangle(x, y + line, line, down - 2 * line),
        shapes.rectangle(x + across - line, y + line, line, down - 2 * line),
    ):
        sketch.fill(mask, "engraving")


class Head(Part):
    """Label and unit above both sides. It never changes."""

    def look(self, t_utc_s: float) -> Look:
        """See `Part.look`."""
        del t_utc_s
        return Look(key=None)

    def paint(self, layer: Layer, key: Any) -> None:
        """Leave the still layer as it is."""


def head_width(bench: Bench) -> int:
    """Least width of the head between its paddings."""
    unit_px = bench.face("unit").line(bench.how.unit).advance_px
    return bench.label_width(bench.label) + bench.px(UNIT_GAP) + unit_px


def head_height(bench: Bench, gap: float) -> int:
    """Height of the head with a gap below it; even, so that parts can stand under it."""
    height = bench.padding_px + bench.face("label").cap_px + bench.px(gap)
    return height + height % 2


def head(bench: Bench, whole: Box, height_px: int) -> Head:
    """The head of a plate."""
    sketch = Sketch(bench, (whole[0], whole[1], whole[2], height_px))
    shared_plate(sketch, whole)
    baseline = bench.padding_px + bench.face("label").cap_px
    sketch.label(bench.label, bench.padding_px, baseline)
    unit_px = bench.face("unit").line(bench.how.unit).advance_px
    sketch.text(bench.how.unit, whole[2] - bench.padding_px - unit_px, baseline, "unit")
    return Head(sketch)
