"""A scale as a chart draws it along its edge: black and white parts, thin ticks, round numbers."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from overlay.figures import plain, round_half_up
from overlay.graphics import shapes
from overlay.graphics.instruments.bench import Bench
from overlay.graphics.instruments.scale import Scale
from overlay.graphics.instruments.sketch import Sketch
from sync.units import from_si

BREADTH = 0.012
"""Breadth of the black and white parts; these are shares of the short side."""

LONG_TICK, SHORT_TICK = 0.008, 0.004
"""Ticks at the ends of the parts, and in the middle of each."""

NUMERAL_GAP = 0.013
"""Between the parts and the numerals below them."""

APART = 0.018
"""Least distance of two numerals."""

STRIDES = (1, 2, 4, 5, 10)
"""Every edge is numbered, or every second and so on, counted from zero."""


def numbered(bench: Bench, scale: Scale, stride: int) -> tuple[tuple[float, str], ...]:
    """Every so manieth end of a part, counted from zero, and its numeral with as many decimals
    as these ends need."""
    step = Decimal(repr(round(stride * scale.part, 9)))
    return tuple(
        (edge, bench.how.signed(plain(round_half_up(edge, step), step)))
        for edge in scale.edges
        if round(edge / scale.part) % stride == 0
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleBar:
    """A scale laid out from left to right between two columns of a plate."""

    scale: Scale
    left_px: int
    right_px: int

    def x(self, value: float) -> float:
        """Where a value stands; beyond an end of the scale, at that end."""
        return self.left_px + self.scale.along(value) * (self.right_px - self.left_px)

    def height_px(self, bench: Bench) -> int:
        """Height of the parts with the numerals below them."""
        return bench.px(BREADTH) + bench.px(NUMERAL_GAP) + bench.face("unit").cap_px

    def engrave(self, sketch: Sketch, top: int) -> None:
        """Draw the parts from a row on down, with ticks and numerals below them."""
        bench, line = sketch.bench, sketch.bench.hairline_px
        breadth = bench.px(BREADTH)
        edges = [round(self.x(edge)) for edge in self.scale.edges]
        for index, (first, last) in enumerate(pairwise(edges)):
            if index % 2 == 0:
                sketch.fill(shapes.rectangle(first, top, last - first, breadth), "cream")
            self._tick(sketch, (first + last) // 2, top + breadth, SHORT_TICK)
        for edge in edges:
            self._tick(sketch, edge, top + breadth, LONG_TICK)
        for y in (top, top + breadth - line):
            span = self.right_px - self.left_px
            sketch.fill(shapes.rectangle(self.left_px, y, span, line), "cream")
        for x in (self.left_px, self.right_px - line):
            sketch.fill(shapes.rectangle(x, top, line, breadth), "cream")
        baseline = top + self.height_px(bench)
        for text, x in self._numerals(bench):
            sketch.text(text, x, baseline, "unit")

    def _tick(self, sketch: Sketch, x: int, y: int, length: float) -> None:
        line = sketch.bench.hairline_px
        x = min(max(x - line // 2, self.left_px), self.right_px - line)
        mask = shapes.rectangle(x, y, line, sketch.bench.px(length))
        sketch.fill(mask, "engraving")

    def _numerals(self, bench: Bench) -> list[tuple[str, int]]:
        """As many numerals as have room, each under its edge, and where each begins."""
        for stride in STRIDES:
            placed = self._placed(bench, stride)
            apart = (
                other[0] - (one[0] + one[1]) >= bench.px(APART) for one, other in pairwise(placed)
            )
            if all(apart):
                break
        else:
            placed = placed[:: max(1, len(placed) - 1)]
        return [(text, left) for left, _, text in placed]

    def _placed(self, bench: Bench, stride: int) -> list[tuple[int, int, str]]:
        face = bench.face("unit")
        placed = []
        for edge, text in numbered(bench, self.scale, stride):
            width = face.line(text).advance_px
            left = min(max(round(self.x(edge) - width / 2), self.left_px), self.right_px - width)
            placed.append((left, width, text))
        return placed


def hatch_band(sketch: Sketch, bar: ScaleBar, top: int, height_px: int) -> None:
    """Hatch the rated band of the sketch's channel between two rows, if it has one."""
    bench = sketch.bench
    band = bench.subject.band(bench.channel)
    if band is None:
        return
    first, last = (bar.x(from_si(end, bench.how.unit, bench.how.quantity)) for end in band)
    area = shapes.rectangle(first, top, last - first, height_px)
    sketch.fill(area, "magenta", 0.45)
    sketch.fill(shapes.hatched(area, bench.px(0.0085), bench.px(0.003)), "magenta_text")
