"""A heading arc: how far the bow has swung since the turn began, as a filled ring with its number.

The ring is a chart's border scale bent round, each part a twelfth of the circle. It fills from
straight up to the side that the boat turns to, so that a look tells port from starboard; what goes
beyond a whole circle is told by the number alone.
"""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Any

from overlay.analysis.signals import Sample
from overlay.figures import NO_VALUE, plain, round_half_up
from overlay.graphics import shapes
from overlay.graphics.instruments.base import Kind, Look, Part
from overlay.graphics.instruments.bench import Bench, Box, Size
from overlay.graphics.instruments.sketch import Numeral, Sketch
from overlay.graphics.layer import Layer, Mask
from sync.clock import TIME_TOLERANCE_S

GRID_HZ = 4.0
"""How often the angle that is shown may change."""

RING, TRACK, CLEAR, ROW_GAP = 0.011, 0.026, 0.010, 0.016
"""Breadth of the ring of parts, of the track inside it, the room between track and number, and the
room under the label, in shares of the short side."""

PARTS = 12
ONE = Decimal(1)
WIDEST = "000"
UNIT = "°"


class HeadingArc(Part):
    """Ring and number, both from how far the turn has come."""

    def __init__(self, sketch: Sketch, numeral: Numeral, at: _Geometry) -> None:
        super().__init__(sketch)
        self._numeral, self._at = numeral, at
        self._run = sketch.bench.subject.run

    def look(self, t_utc_s: float) -> Look:
        """See `Part.look`."""
        swept = self._swept(t_utc_s)
        text = NO_VALUE if swept is None else plain(round_half_up(swept.value, ONE), ONE)
        radians = math.nan if swept is None else math.radians(swept.value)
        instant = t_utc_s if swept is None else swept.t_s
        sample = Sample(t_s=instant, value=radians)
        return Look(key=text, shown=(self._numeral.shown(text, sample, UNIT),))

    def _swept(self, t_utc_s: float) -> Sample | None:
        """Degrees on the grid of time; None before the turn and in a run that is none."""
        if self._run.counted.sign != UNIT or t_utc_s < self._run.start_utc_s:
            return None
        grid = math.floor((t_utc_s + TIME_TOLERANCE_S) * GRID_HZ) / GRID_HZ
        grid = min(max(grid, self._run.start_utc_s), self._run.stop_utc_s)
        return Sample(t_s=grid, value=self._run.counted.along(grid))

    def paint(self, layer: Layer, key: Any) -> None:
        """See `Part.paint`."""
        if key != NO_VALUE:
            angle = min(math.radians(int(key)), 2 * math.pi) * (-1 if self._run.to_port else 1)
            if angle:
                layer.cover(self._at.track((0.0, angle)), self.bench.colour("magenta"))
                layer.cover(self._at.edge(angle), self.bench.colour("magenta_text"))
        self._numeral.paint(layer, key)


class _Geometry:
    """Where everything stands: the ring about the widest number."""

    def __init__(self, bench: Bench, box: Box | None = None) -> None:
        face = bench.face("second")
        self.number_px = face.line(WIDEST).advance_px
        self.unit_px = face.line(UNIT).advance_px
        corner = math.hypot(self.number_px / 2 + self.unit_px, face.cap_px / 2)
        self.ring_px, self.track_px = bench.px(RING), bench.px(TRACK)
        self.rim_px = math.ceil(corner + bench.px(CLEAR) + self.track_px + self.ring_px)
        self.head_px = bench.padding_px + bench.face("label").cap_px + bench.px(ROW_GAP)
        self.line_px = bench.px(0.005)
        width = 0 if box is None else box[2]
        self.centre = (width / 2, float(self.head_px + self.rim_px))

    def track(self, angles_rad: tuple[float, float]) -> Mask:
        inner = self.rim_px - self.ring_px
        return shapes.sector(self.centre, (inner - self.track_px, inner), angles_rad)

    def edge(self, angle_rad: float) -> Mask:
        """The line at which the filling ends."""
        inner = self.rim_px - self.ring_px
        return shapes.stroke(
            shapes.on_circle(self.centre, inner - self.track_px, angle_rad),
            shapes.on_circle(self.centre, self.rim_px, angle_rad),
            self.line_px,
        )


def _engrave(sketch: Sketch, at: _Geometry) -> None:
    line, inner = sketch.bench.hairline_px, at.rim_px - at.ring_px
    part = 2 * math.pi / PARTS
    for index in range(PARTS):
        first = index * part
        if index % 2 == 0:
            ends = (first, first + part)
            sketch.fill(shapes.sector(at.centre, (inner, at.rim_px), ends), "cream")
        start, end = (
            shapes.on_circle(at.centre, radius, first)
            for radius in (inner - (0.4 if index % 3 == 0 else 0.2) * at.track_px, inner)
        )
        sketch.fill(shapes.stroke(start, end, line), "engraving")
    for radius, colour in (
        (inner, "cream"),
        (at.rim_px, "cream"),
        (inner - at.track_px, "engraving"),
    ):
        ring = shapes.sector(at.centre, (radius - line / 2, radius + line / 2), (0.0, 2 * math.pi))
        sketch.fill(ring, colour)


def size(bench: Bench) -> Size:
    """Room for the ring under its label."""
    at = _Geometry(bench)
    width = max(2 * at.rim_px, bench.label_width(_label(bench))) + 2 * bench.padding_px
    width = max(width, bench.least_width_px)
    height = at.head_px + 2 * at.rim_px + bench.padding_px
    return width + width % 2, height + height % 2


def _label(bench: Bench) -> str:
    return bench.label or "swept"


def parts(bench: Bench, box: Box) -> tuple[Part, ...]:
    """The plate with its ring, and the number in it."""
    sketch, at = Sketch(bench, box), _Geometry(bench, box)
    sketch.plate()
    sketch.label(_label(bench), bench.padding_px, bench.padding_px + bench.face("label").cap_px)
    _engrave(sketch, at)
    baseline = round(at.centre[1] + bench.face("second").cap_px / 2)
    right = round(at.centre[0] + at.number_px / 2 - at.unit_px / 2)
    sketch.text(UNIT, right, baseline, "second")
    _point(sketch, at)
    numeral = Numeral(sketch, "second", right, baseline, item="swept")
    return (HeadingArc(sketch, numeral, at),)


def _point(sketch: Sketch, at: _Geometry) -> None:
    """Where the end of the filling is to be seen, inside of the ticks."""
    inner = at.rim_px - at.ring_px
    turn = -2 * math.pi if sketch.bench.subject.run.to_port else 2 * math.pi
    sketch.pointer(
        (at.centre, at.centre),
        item="swept",
        path="arc",
        mark="middle",
        reach_px=(inner - 0.95 * at.track_px, inner - 0.45 * at.track_px),
        angles_rad=(0.0, turn),
        low=0.0,
        high=360.0,
        unit=UNIT,
        quantity="angle",
        colour="magenta_text",
    )


KIND = Kind(
    name="heading_arc",
    text="how far the bow has swung since a turn began, as a ring that fills, with its number",
    channels=(),
    size=size,
    parts=parts,
    follows_from="turn_rate",
)
