"""A dial: a number inside an arc of black and white parts, with a pointer on it.

The rated band is hatched in magenta, as a chart hatches what one should know about, and a
fine magenta line stays at the greatest value since the run began.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

from overlay.graphics import shapes
from overlay.graphics.instruments.base import Kind, Part
from overlay.graphics.instruments.bench import Bench, Box, Size
from overlay.graphics.instruments.gauge import Gauge
from overlay.graphics.instruments.scale import Scale, scale_for
from overlay.graphics.instruments.sketch import Numeral, Sketch
from overlay.graphics.layer import Layer, Mask
from overlay.graphics.spec_file import Key
from sync.units import from_si

SWEEP_RAD = math.radians(104)
"""How far the arc reaches to either side of straight up."""

RING = 0.011
"""Breadth of the arc of black and white parts, as a share of the short side."""

TRACK = 0.038
"""Breadth of the track inside it, where the pointer runs and the band is hatched."""

BAND = 0.5
"""How much of the track the hatching of the rated band takes, from the arc inwards."""

CLEAR = 0.008
"""Between the track and the number."""

DROP = 0.014
"""How far the foot of the number lies below the middle of the arc."""

ROW_GAP = 0.016

STEPS_A_PX = 4
"""How finely the pointer moves: to a quarter of a pixel at the rim."""


class Geometry:
    """Where everything of a dial stands on its plate.

    The number stands on a baseline a little below the middle of the arc; the track keeps
    clear of its upper corners, so that the pointer never touches a digit.
    """

    def __init__(self, bench: Bench) -> None:
        face = bench.face("second")
        self.half_number_px = face.line(bench.how.widest()).advance_px / 2
        self.drop_px = bench.px(DROP)
        corner = math.hypot(self.half_number_px, face.cap_px - self.drop_px)
        self.ring_px = bench.px(RING)
        self.track_px = bench.px(TRACK)
        inner = corner + bench.px(CLEAR)
        self.rim_px = math.ceil(inner + self.track_px + self.ring_px)
        self.head_px = bench.padding_px + bench.face("label").cap_px + bench.px(ROW_GAP)
        self.foot_px = math.ceil(-math.cos(SWEEP_RAD) * self.rim_px)

    def centre(self, box: Box) -> tuple[float, float]:
        """The middle of the arc under a row for label and unit."""
        return box[2] / 2, self.head_px + self.rim_px

    def angle(self, scale: Scale, value: float) -> float:
        """Where a value stands on the arc, clockwise from straight up."""
        return (2 * scale.along(value) - 1) * SWEEP_RAD


class Dial(Gauge):
    """A pointer on an arc."""

    def __init__(
        self,
        sketch: Sketch,
        numeral: Numeral,
        scale: Scale,
        geometry: Geometry,
        centre: tuple[float, float],
    ) -> None:
        super().__init__(sketch, numeral)
        self._scale = scale
        self._geometry = geometry
        self._centre = centre
        self._step_rad = 1.0 / (STEPS_A_PX * geometry.rim_px)

    def step(self, shown: float) -> int:
        """See `Gauge.step`."""
        return round(self._geometry.angle(self._scale, shown) / self._step_rad)

    def paint(self, layer: Layer, key: Any) -> None:
        """See `Part.paint`."""
        text, pointer, held = key
        if held is not None:
            layer.cover(self._held_mask(held * self._step_rad), self.bench.colour("magenta_text"))
        if pointer is not None:
            layer.cover(self._pointer_mask(pointer * self._step_rad), self.bench.colour("cream"))
        self._numeral.paint(layer, text)

    def _pointer_mask(self, angle: float) -> Mask:
        """A slim wedge across the track, its point on the inner edge of the arc."""
        at = self._geometry
        inner = at.rim_px - at.ring_px
        base = inner - at.track_px
        half = 0.013 * self.bench.picture.short_px / 2 / base
        point = 0.003 * self.bench.picture.short_px / 2 / inner
        return shapes.polygon(
            [
                shapes.on_circle(self._centre, base, angle - half),
                shapes.on_circle(self._centre, inner, angle - point),
                shapes.on_circle(self._centre, inner, angle + point),
                shapes.on_circle(self._centre, base, angle + half),
            ]
        )

    def _held_mask(self, angle: float) -> Mask:
        at = self._geometry
        return shapes.stroke(
            shapes.on_circle(self._centre, at.rim_px - at.ring_px - BAND * at.track_px, angle),
            shapes.on_circle(self._centre, at.rim_px, angle),
            self.bench.px(0.005),
        )


def dial_on(
    sketch: Sketch,
    scale: Scale,
    at: Geometry,
    centre: tuple[float, float],
    *,
    item: str = "value",
) -> Dial:
    """A dial around a place on a plate."""
    _engrave(sketch, scale, at, centre)
    right, baseline = round(centre[0] + at.half_number_px), round(centre[1]) + at.drop_px
    numeral = Numeral(sketch, "second", right, baseline, item=item)
    _point(sketch, scale, at, centre, item)
    return Dial(sketch, numeral, scale, at, centre)


def _point(
    sketch: Sketch, scale: Scale, at: Geometry, centre: tuple[float, float], item: str
) -> None:
    """Where the pointer is to be seen: inside of band, ticks and the greatest value."""
    base = at.rim_px - at.ring_px - at.track_px
    sketch.pointer(
        (centre, centre),
        item=item,
        path="arc",
        mark="middle",
        reach_px=(base + 0.05 * at.track_px, base + 0.95 * (1 - BAND) * at.track_px),
        angles_rad=(-SWEEP_RAD, SWEEP_RAD),
        low=scale.low,
        high=scale.high,
        unit=sketch.bench.how.unit,
        quantity=sketch.bench.how.quantity,
        colour="cream",
    )


def _engrave(sketch: Sketch, scale: Scale, at: Geometry, centre: tuple[float, float]) -> None:
    """The arc of parts, its edges, the ticks and the rated band."""
    bench = sketch.bench
    line = bench.hairline_px
    inner = at.rim_px - at.ring_px
    band = bench.subject.band(bench.channel)
    if band is not None:
        ends = [from_si(end, bench.how.unit, bench.how.quantity) for end in band]
        angles = (at.angle(scale, ends[0]), at.angle(scale, ends[1]))
        area = shapes.sector(centre, (inner - BAND * at.track_px, inner), angles)
        sketch.fill(area, "magenta", 0.45)
        sketch.fill(shapes.hatched(area, bench.px(0.0085), bench.px(0.003)), "magenta_text")
    edges = [at.angle(scale, edge) for edge in scale.edges]
    for index, (first, last) in enumerate(pairwise(edges)):
        if index % 2 == 0:
            sketch.fill(shapes.sector(centre, (inner, at.rim_px), (first, last)), "cream")
        _tick(sketch, centre, (inner - 0.12 * at.track_px, inner), (first + last) / 2)
    for edge in edges:
        _tick(sketch, centre, (inner - 0.24 * at.track_px, inner), edge)
    for radius in (inner, at.rim_px):
        ring = shapes.sector(centre, (radius - line / 2, radius + line / 2), (edges[0], edges[-1]))
        sketch.fill(ring, "cream")


def _tick(
    sketch: Sketch, centre: tuple[float, float], radii_px: tuple[float, float], angle: float
) -> None:
    start, end = (shapes.on_circle(centre, radius, angle) for radius in radii_px)
    sketch.fill(shapes.stroke(start, end, sketch.bench.hairline_px), "engraving")


def size(bench: Bench) -> Size:
    """Room for the arc around the widest number, under a row for label and unit."""
    at = Geometry(bench)
    row = bench.label_width(bench.label) + bench.px(0.02)
    row += bench.face("unit").line(bench.how.unit).advance_px
    width = max(2 * math.ceil(at.rim_px), row, bench.least_width_px - 2 * bench.padding_px)
    width += 2 * bench.padding_px
    height = math.ceil(at.head_px + at.rim_px + at.foot_px) + bench.padding_px
    return width + width % 2, height + height % 2


def parts(bench: Bench, box: Box) -> tuple[Part, ...]:
    """The plate with its arc, and pointer and number on it."""
    at, scale = Geometry(bench), scale_for(bench)
    sketch = Sketch(bench, box)
    sketch.plate()
    baseline = bench.padding_px + bench.face("label").cap_px
    sketch.label(bench.label, bench.padding_px, baseline)
    unit_px = bench.face("unit").line(bench.how.unit).advance_px
    sketch.text(bench.how.unit, box[2] - bench.padding_px - unit_px, baseline, "unit")
    return (dial_on(sketch, scale, at, at.centre(box)),)


KIND = Kind(
    name="dial",
    text="one channel as a pointer on an arc, its number inside, its rated band hatched",
    channels=("engine_speed", "speed", "water_speed", "fuel_flow", "throttle", "turn_rate"),
    size=size,
    parts=parts,
    options={
        "scale": Key(
            kind=list, rising=True, text="the ends of the scale, in the unit that is shown"
        ),
        "held": Key(kind=bool, default=True, text="whether the greatest value stays marked"),
    },
)
