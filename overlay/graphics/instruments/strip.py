"""A strip chart: the shown value over the last seconds, the newest at the right edge.

The paper moves when a new value is shown, by whole columns, and its lower edge is a chart's
border scale of whole seconds of log time that moves with it. A hole in the channel is a hole
in the trace.
"""

from __future__ import annotations

import math
from types import MappingProxyType
from typing import Any

import numpy as np

from overlay.analysis.signals import GRID_HZ, OTHER_GRID_HZ
from overlay.figures import MINUS
from overlay.graphics import shapes
from overlay.graphics.instruments import bar
from overlay.graphics.instruments.base import Kind, Look, Part
from overlay.graphics.instruments.bench import Bench, Box, Size
from overlay.graphics.instruments.sketch import Numeral, Sketch
from overlay.graphics.instruments.strip_paper import (
    LENGTH,
    NUMERAL_GAP,
    POINTER,
    Geometry,
    geometry,
    numerals,
    numerals_px,
)
from overlay.graphics.instruments.trace import Trace
from overlay.graphics.layer import Layer, Mask
from overlay.graphics.spec_file import Key
from sync.clock import TIME_TOLERANCE_S
from sync.units import from_si

PEN = 0.0045
"""Breadth of the pen; these are shares of the short side."""

BORDER = 0.011
"""Breadth of the border scale of seconds below the paper."""

TICK = 0.008
NOW = "now"


class Strip(Part):
    """The paper with its trace, and the number."""

    by_sample = True

    def __init__(self, sketch: Sketch, numeral: Numeral, at: Geometry) -> None:
        super().__init__(sketch)
        bench = sketch.bench
        self._numeral = numeral
        self._at = at
        self._trace = bench.signal and Trace(
            bench.signal,
            paper=at.paper,
            scale=at.scale,
            figure=bench.how,
            height_px=at.height_px,
            pen_px=bench.px(PEN),
        )

    def look(self, t_utc_s: float) -> Look:
        """See `Part.look`."""
        sample = self.bench.sample(t_utc_s)
        text = self.bench.how.text(sample.value)
        shown = self._numeral.shown(text, sample, self.bench.how.unit)
        # Whatever is on the paper follows from the instant whose value is the newest.
        instant = sample.t_s if self.bench.signal else self._grid(t_utc_s)
        return Look(key=(text, instant), shown=(shown,))

    def _grid(self, t_utc_s: float) -> float:
        """The last instant at which the paper moves, where there is no channel to move it."""
        hz = GRID_HZ.get(self.bench.channel.partition(".")[0], OTHER_GRID_HZ)
        return math.floor((t_utc_s + TIME_TOLERANCE_S) * hz) / hz

    def paint(self, layer: Layer, key: Any) -> None:
        """See `Part.paint`."""
        text, instant = key
        bench, at = self.bench, self._at
        self._paint_seconds(layer, at.paper.stop(instant))
        if self._trace:
            ink = self._trace.ink(instant)
            top = at.top_px - self._trace.beyond_px
            layer.cover(Mask(left=at.left_px, top=top, alpha=ink), bench.colour("cream"))
            value = bench.sample(instant).value
            if math.isfinite(value):
                self._paint_pointer(layer, from_si(value, bench.how.unit, bench.how.quantity))
        self._numeral.paint(layer, text)

    def _paint_seconds(self, layer: Layer, stop: int) -> None:
        """The border scale of seconds, and a tick over it at each."""
        bench, at = self.bench, self._at
        line = bench.hairline_px
        white = np.where(at.paper.parts(stop, at.part_s) % 2 == 0, 255, 0).astype(np.uint8)
        band = np.tile(white, (bench.px(BORDER), 1))
        layer.cover(Mask(left=at.left_px, top=at.bottom_px, alpha=band), bench.colour("cream"))
        # A tick is `line` columns wide, the first of them where its second begins.
        begins = np.diff(at.paper.parts(stop, at.tick_s), prepend=0) != 0
        begins[0] = False
        ticked = np.convolve(begins, np.ones(line, np.int64))[: begins.size] > 0
        ticks = np.tile(np.where(ticked, 255, 0).astype(np.uint8), (bench.px(TICK), 1))
        top = at.bottom_px - bench.px(TICK)
        layer.cover(Mask(left=at.left_px, top=top, alpha=ticks), bench.colour("engraving"))

    def _paint_pointer(self, layer: Layer, shown: float) -> None:
        bench, at = self.bench, self._at
        x = _wedge_px(bench, at)
        y = at.bottom_px - at.scale.along(shown) * at.height_px
        half, length = 0.45 * bench.px(POINTER), bench.px(POINTER)
        wedge = shapes.polygon([(x, y), (x + length, y - half), (x + length, y + half)])
        layer.cover(wedge, bench.colour("cream"))


def _wedge_px(bench: Bench, at: Geometry) -> int:
    """Where the wedge beside the paper has its point."""
    return at.left_px + at.paper.width_px + bench.px(0.003)


def _point(sketch: Sketch, at: Geometry) -> None:
    """Where the wedge is to be seen."""
    bench, x = sketch.bench, _wedge_px(sketch.bench, at)
    length = bench.px(POINTER)
    sketch.pointer(
        ((x, at.bottom_px), (x, at.top_px)),
        item="value",
        path="line",
        mark="middle",
        reach_px=(0.4 * length, length),
        low=at.scale.low,
        high=at.scale.high,
        unit=bench.how.unit,
        quantity=bench.how.quantity,
        colour="cream",
    )


def size(bench: Bench) -> Size:
    """Room for label, number and unit in a row over the paper and its numerals."""
    number = bench.face("second").line(bench.how.widest()).advance_px + bench.px(bar.UNIT_GAP)
    row = bench.label_width(bench.label) + bench.px(bar.LABEL_GAP) + number
    row += bench.face("unit").line(bench.how.unit).advance_px
    paper = numerals_px(bench) + bench.px(NUMERAL_GAP) + bench.px(LENGTH) + bench.px(POINTER)
    width = max(max(paper, row) + 2 * bench.padding_px, bench.least_width_px)
    foot = bench.px(BORDER) + bench.px(NUMERAL_GAP) + bench.face("unit").cap_px
    height = geometry(bench, width).bottom_px + foot + bench.padding_px
    return width + width % 2, height + height % 2


def _engrave(sketch: Sketch, at: Geometry) -> None:
    """The paper with its lines, numerals and thresholds, and the border below it."""
    bench, line = sketch.bench, sketch.bench.hairline_px
    span, cap = at.paper.width_px, bench.face("unit").cap_px
    sketch.fill(shapes.rectangle(at.left_px, at.top_px, span, at.height_px), "shallow", 0.12)
    for edge in at.scale.edges:
        mask = shapes.rectangle(at.left_px, at.y(edge) - line // 2, span, line)
        zero = abs(edge) < at.scale.part / 2 and at.scale.low < 0
        sketch.fill(mask, "engraving", 1.0 if zero else 0.45)
    for edge, text in numerals(bench, at.scale, at.height_px):
        right = at.left_px - bench.px(NUMERAL_GAP)
        left = right - bench.face("unit").line(text).advance_px
        sketch.text(text, left, at.y(edge) + cap // 2, "unit")
    thick = bench.px(0.003)
    for threshold in bench.options["thresholds"]:
        mask = shapes.rectangle(at.left_px, at.y(threshold) - thick // 2, span, thick)
        sketch.fill(mask, "magenta_text")
    breadth = bench.px(BORDER)
    for y in (at.bottom_px, at.bottom_px + breadth - line):
        sketch.fill(shapes.rectangle(at.left_px, y, span, line), "cream")
    for x in (at.left_px, at.left_px + span - line):
        sketch.fill(shapes.rectangle(x, at.bottom_px, line, breadth), "cream")
    baseline = at.bottom_px + breadth + bench.px(NUMERAL_GAP) + cap
    sketch.text(
        bench.how.signed(f"{MINUS}{bench.options['seconds']:g} s"), at.left_px, baseline, "unit"
    )
    right = at.left_px + span - bench.face("unit").line(NOW).advance_px
    sketch.text(NOW, right, baseline, "unit")


def parts(bench: Bench, box: Box) -> tuple[Part, ...]:
    """The plate with its paper, and trace and number on it."""
    sketch, at = Sketch(bench, box), geometry(bench, box[2])
    sketch.plate()
    baseline = bench.padding_px + bench.face("second").cap_px
    sketch.label(bench.label, bench.padding_px, baseline)
    edge = box[2] - bench.padding_px - bench.face("unit").line(bench.how.unit).advance_px
    sketch.text(bench.how.unit, edge, baseline, "unit")
    _engrave(sketch, at)
    numeral = Numeral(sketch, "second", edge - bench.px(bar.UNIT_GAP), baseline)
    _point(sketch, at)
    return (Strip(sketch, numeral, at),)


KIND = Kind(
    name="strip",
    text="one channel over the last seconds as a trace on moving paper, with thresholds",
    channels=(*bar.CHANNELS, "pitch", "roll", "acceleration"),
    size=size,
    parts=parts,
    options=MappingProxyType(
        {
            "scale": Key(
                kind=list, rising=True, text="the ends of the scale, in the unit that is shown"
            ),
            "seconds": Key(
                kind=float, default=20.0, low=5.0, high=300.0, text="how many seconds are seen"
            ),
            "thresholds": Key(
                kind=list,
                default=(),
                count=(0, 3),
                text="values to be marked, in the unit that is shown",
            ),
        }
    ),
)
