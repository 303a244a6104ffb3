"""An inclinometer: a hull in profile, tilting at its true angle against a scale.

Whoever looks sees the bow come up before reading the number. A fine magenta line stays at
the greatest angle since the run began.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from overlay.graphics import shapes
from overlay.graphics.instruments.base import Kind, Look, Part
from overlay.graphics.instruments.bench import Bench, Box, Held, Size
from overlay.graphics.instruments.sketch import Numeral, Sketch
from overlay.graphics.layer import Layer, Mask
from overlay.graphics.spec_file import Key

HULL = 0.162
"""Length of the hull, as a share of the short side."""

PROFILE = (
    (0.0, 0.0),
    (0.62, 0.0),
    (0.80, 0.025),
    (0.92, 0.085),
    (1.0, 0.165),
    (0.70, 0.155),
    (0.0, 0.125),
)
"""The hull from the foot of its transom along the keel and back along the sheer, in shares
of its length, forward and up."""

SEEN = (0.25, 0.60)
"""From where to where the keel is straight, and the hull above it high enough to be found."""

STEM = 4
"""Which of those points is the stem head, the highest when the bow is up."""

LOWEST, HIGHEST = math.radians(-5), math.radians(15)
"""The scale's ends; beyond them the hull stays at the end, and the number tells."""

TICKS_DEG = (-5, 0, 5, 10, 15)
ROW_GAP = 0.012
COLUMN_GAP = 0.02
STEPS_A_RAD = 2000


class Inclinometer(Part):
    """Hull, number and the greatest angle, all from one sample."""

    by_sample = True

    def __init__(self, sketch: Sketch, numeral: Numeral, pivot: tuple[float, float]) -> None:
        super().__init__(sketch)
        self._numeral = numeral
        self._pivot = pivot
        self._held = Held(sketch.bench) if sketch.bench.options["held"] else None

    def look(self, t_utc_s: float) -> Look:
        """See `Part.look`."""
        sample = self.bench.sample(t_utc_s)
        text = self.bench.how.text(sample.value)
        held = self._held.at(t_utc_s) if self._held else math.nan
        shown = self._numeral.shown(text, sample, self.bench.how.unit)
        return Look(key=(text, _step(sample.value), _step(held)), shown=(shown,))

    def paint(self, layer: Layer, key: Any) -> None:
        """See `Part.paint`."""
        text, tilt, held = key
        if held is not None:
            layer.cover(
                _mark(self.bench, self._pivot, held / STEPS_A_RAD),
                self.bench.colour("magenta_text"),
            )
        if tilt is not None:
            layer.cover(
                _hull(self.bench, self._pivot, tilt / STEPS_A_RAD), self.bench.colour("cream")
            )
        self._numeral.paint(layer, text)


def _step(angle_rad: float) -> int | None:
    if not math.isfinite(angle_rad):
        return None
    return round(min(HIGHEST, max(LOWEST, angle_rad)) * STEPS_A_RAD)


def _hull(bench: Bench, pivot: tuple[float, float], angle_rad: float) -> Mask:
    """The profile, turned about the foot of its transom."""
    points = np.array(PROFILE) * HULL * bench.picture.short_px
    cos, sin = math.cos(angle_rad), math.sin(angle_rad)
    forward = points[:, 0] * cos - points[:, 1] * sin
    up = points[:, 0] * sin + points[:, 1] * cos
    return shapes.polygon(np.stack([pivot[0] + forward, pivot[1] - up], axis=1))


def _mark(bench: Bench, pivot: tuple[float, float], angle_rad: float) -> Mask:
    """A line across the scale."""
    turn = math.pi / 2 - angle_rad
    inner, outer = (share * bench.picture.short_px for share in (HULL + 0.004, HULL + 0.03))
    return shapes.stroke(
        shapes.on_circle(pivot, inner, turn),
        shapes.on_circle(pivot, outer, turn),
        bench.px(0.005),
    )


def _reach(bench: Bench) -> tuple[int, int, int]:
    """How far the drawing reaches right of, above and below its pivot."""
    radius = (HULL + 0.032) * bench.picture.short_px
    stem = HULL * (math.sin(HIGHEST) + PROFILE[STEM][1] * math.cos(HIGHEST))
    above = max(stem, (HULL + 0.03) * math.sin(HIGHEST)) * bench.picture.short_px
    below = (HULL + 0.03) * -math.sin(LOWEST) * bench.picture.short_px
    return math.ceil(radius), math.ceil(above), math.ceil(below)


def size(bench: Bench) -> Size:
    """Room for the drawing, and beside it for label and number."""
    right, above, below = _reach(bench)
    face = bench.face("second")
    number = face.line(bench.how.widest()).advance_px + face.line(bench.how.unit).advance_px
    column = max(number, bench.label_width(bench.label))
    width = right + bench.px(COLUMN_GAP) + column + 2 * bench.padding_px
    rows = bench.face("label").cap_px + bench.px(ROW_GAP) + face.cap_px
    height = max(rows, above + below) + 2 * bench.padding_px
    width = max(width, bench.least_width_px)
    return width + width % 2, height + height % 2


def _engrave(sketch: Sketch, pivot: tuple[float, float]) -> None:
    """The water, its surface, and the scale around the hull's foot."""
    bench = sketch.bench
    _, _, below = _reach(bench)
    line = bench.hairline_px
    left, surface = round(pivot[0]), round(pivot[1])
    span = round(HULL * bench.picture.short_px)
    sketch.fill(shapes.rectangle(left, surface, span, below), "shallow", 0.30)
    sketch.fill(shapes.rectangle(left, surface, span, line), "shallow")
    inner = (HULL + 0.010) * bench.picture.short_px
    arc = (math.pi / 2 - HIGHEST, math.pi / 2 - LOWEST)
    sketch.fill(shapes.sector(pivot, (inner, inner + line), arc), "engraving")
    for degrees in TICKS_DEG:
        long = degrees % 10 == 0
        turn = math.pi / 2 - math.radians(degrees)
        outer = inner + (0.018 if long else 0.010) * bench.picture.short_px
        start, end = (shapes.on_circle(pivot, radius, turn) for radius in (inner, outer))
        sketch.fill(shapes.stroke(start, end, line), "cream" if long else "engraving")


def parts(bench: Bench, box: Box) -> tuple[Part, ...]:
    """The plate with its water and scale, and hull and number on it."""
    sketch = Sketch(bench, box)
    sketch.plate()
    _, _, below = _reach(bench)
    pivot = (float(bench.padding_px), float(box[3] - bench.padding_px - below))
    _engrave(sketch, pivot)
    row = bench.padding_px + bench.face("label").cap_px
    sketch.label(bench.label, box[2] - bench.padding_px - bench.label_width(bench.label), row)
    baseline = box[3] - bench.padding_px
    unit_px = bench.face("second").line(bench.how.unit).advance_px
    edge = box[2] - bench.padding_px - unit_px
    sketch.text(bench.how.unit, edge, baseline, "second")
    _point(sketch, pivot)
    return (Inclinometer(sketch, Numeral(sketch, "second", edge, baseline), pivot),)


def _point(sketch: Sketch, pivot: tuple[float, float]) -> None:
    """Where the keel is to be seen: seen from its foot, the hull begins at its true angle."""
    length_px = HULL * sketch.bench.picture.short_px
    sketch.pointer(
        (pivot, pivot),
        item="value",
        path="arc",
        mark="begins",
        reach_px=(SEEN[0] * length_px, SEEN[1] * length_px),
        angles_rad=(math.pi / 2 - LOWEST, math.pi / 2 - HIGHEST),
        low=math.degrees(LOWEST),
        high=math.degrees(HIGHEST),
        unit=sketch.bench.how.unit,
        quantity=sketch.bench.how.quantity,
        colour="cream",
    )


KIND = Kind(
    name="inclinometer",
    text="pitch as a hull that tilts at its true angle, with its number",
    channels=("pitch",),
    size=size,
    parts=parts,
    options={"held": Key(kind=bool, default=True, text="whether the greatest angle stays marked")},
)
