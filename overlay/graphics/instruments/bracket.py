"""A steadiness bracket: whether a step keeps inside the band in which it counts as steady.

The band, which every pass has about its own mean, is drawn as a pair of brackets about its middle,
on a scale twice as wide. A full mark
stands on the scale while the value is inside; outside of it the mark is hollow, and beyond the
scale it stays at the end, so that shape and place tell as well as colour does.
"""

from __future__ import annotations

import math
from typing import Any

from overlay.graphics import shapes
from overlay.graphics.instruments.base import Kind, Look, Part
from overlay.graphics.instruments.bench import Bench, Box, Size
from overlay.graphics.instruments.sketch import Numeral, Sketch
from overlay.graphics.layer import Layer, Mask
from sync.units import from_si

WIDEST_BANDS = 2.0
"""The scale reaches so many half bands to either side."""

SCALE, FOOT, ROW_GAP, UNIT_GAP, MARK = 0.032, 0.010, 0.018, 0.012, 0.012
"""Height of the brackets, length of their feet, room above the number and the scale, between
number and unit, and half the width of the mark, in shares of the short side."""


class Bracket(Part):
    """The number, and where it stands in its band."""

    by_sample = True

    def __init__(self, sketch: Sketch, numeral: Numeral) -> None:
        super().__init__(sketch)
        self._numeral = numeral
        self._left, self._right, self._top = _scale(sketch.bench, sketch.box)

    def look(self, t_utc_s: float) -> Look:
        """See `Part.look`."""
        sample = self.bench.sample(t_utc_s)
        text = self.bench.how.text(sample.value)
        shown = self._numeral.shown(text, sample, self.bench.how.unit)
        band = self.bench.subject.bracket(self.bench.channel, sample.t_s)
        return Look(key=(text, *self._place(sample.value, band)), shown=(shown,))

    def _place(self, value: float, band: tuple[float, float] | None) -> tuple[int | None, bool]:
        """Where the mark stands in pixels, None for nowhere, and whether that is inside."""
        if band is None or not math.isfinite(value):
            return None, False
        low, high = band
        half = (high - low) / 2
        share = (value - (low + high) / 2) / (half * WIDEST_BANDS)
        middle = (self._left + self._right) / 2
        reach = (self._right - self._left) / 2
        return round(middle + reach * min(1.0, max(-1.0, share))), low <= value <= high

    def paint(self, layer: Layer, key: Any) -> None:
        """See `Part.paint`."""
        text, place, inside = key
        if place is not None:
            self._mark(layer, place, inside=inside)
        self._numeral.paint(layer, text)

    def _mark(self, layer: Layer, x: int, *, inside: bool) -> None:
        """A lozenge on the scale, hollow outside the band."""
        half, middle = self.bench.px(MARK), self._top + self.bench.px(SCALE) / 2
        layer.cover(_lozenge(x, middle, half), self.bench.colour("magenta_text"))
        if not inside:
            inner = half - 2 * self.bench.px(0.003)
            layer.cover(_lozenge(x, middle, inner), self.bench.colour("ink"))


def _lozenge(x: float, y: float, half: float) -> Mask:
    return shapes.polygon([(x - half, y), (x, y - half), (x + half, y), (x, y + half)])


def _scale(bench: Bench, box: Box) -> tuple[int, int, int]:
    """Left and right end of the scale, and the top of the brackets."""
    inset = bench.padding_px + bench.px(MARK)
    top = box[3] - bench.padding_px - bench.px(SCALE)
    return inset, box[2] - inset, top


def _engrave(sketch: Sketch) -> None:
    """The scale, its middle, and the brackets."""
    bench = sketch.bench
    left, right, top = _scale(bench, sketch.box)
    high, line, foot = bench.px(SCALE), bench.hairline_px, bench.px(FOOT)
    middle, thick = (left + right) / 2, 2 * bench.hairline_px
    reach = (right - left) / 2 / WIDEST_BANDS
    sketch.fill(shapes.rectangle(left, top + high // 2, right - left, line), "engraving")
    sketch.fill(shapes.rectangle(round(middle), top + high // 4, line, high // 2), "engraving")
    for side in (-1, 1):
        x = round(middle + side * reach)
        sketch.fill(shapes.rectangle(x, top, thick, high), "cream")
        inward = x if side < 0 else x - foot + thick
        for y in (top, top + high - thick):
            sketch.fill(shapes.rectangle(inward, y, foot, thick), "cream")


def _point(sketch: Sketch) -> None:
    """Where the mark is to be seen: each pass has a scale of its own."""
    bench = sketch.bench
    left, right, top = _scale(bench, sketch.box)
    middle_px, half_px = top + bench.px(SCALE) / 2, bench.px(MARK)
    bands = bench.subject.brackets[bench.channel]
    begins = [None, *(band[0] for band in bands[1:])]
    for (_, *band), since, until in zip(bands, begins, [*begins[1:], None], strict=True):
        low, high = (from_si(end, bench.how.unit, bench.how.quantity) for end in band)
        middle, reach = (low + high) / 2, (high - low) / 2 * WIDEST_BANDS
        sketch.pointer(
            ((left, middle_px), (right, middle_px)),
            item="value",
            path="line",
            mark="middle",
            reach_px=(-half_px, half_px),
            low=middle - reach,
            high=middle + reach,
            unit=bench.how.unit,
            quantity=bench.how.quantity,
            colour="magenta_text",
            from_utc_s=since,
            to_utc_s=until,
        )


def _unit_px(bench: Bench) -> int:
    return bench.px(UNIT_GAP) + bench.face("unit").line(bench.how.unit).advance_px


def size(bench: Bench) -> Size:
    """Room for the label, the widest number with its unit, and the scale."""
    face = bench.face("second")
    number = face.line(bench.how.widest()).advance_px + _unit_px(bench)
    width = max(number, bench.label_width(bench.label), bench.px(0.16)) + 2 * bench.padding_px
    rows = bench.face("label").cap_px + face.cap_px + bench.px(SCALE) + 2 * bench.px(ROW_GAP)
    height = 2 * bench.padding_px + rows
    width = max(width, bench.least_width_px)
    return width + width % 2, height + height % 2


def parts(bench: Bench, box: Box) -> tuple[Part, ...]:
    """The plate with its brackets; without a band there are none."""
    sketch = Sketch(bench, box)
    sketch.plate()
    row = bench.padding_px + bench.face("label").cap_px
    sketch.label(bench.label, bench.padding_px, row)
    baseline = row + bench.px(ROW_GAP) + bench.face("second").cap_px
    right = box[2] - bench.padding_px - _unit_px(bench)
    sketch.text(bench.how.unit, right + bench.px(UNIT_GAP), baseline, "unit")
    if bench.channel in bench.subject.brackets:
        _engrave(sketch)
        _point(sketch)
    return (Bracket(sketch, Numeral(sketch, "second", right, baseline)),)


KIND = Kind(
    name="bracket",
    text="one channel as a number, and whether it is inside the band of a steady step",
    channels=("engine_speed", "speed"),
    size=size,
    parts=parts,
)
