"""The neatline: the black-and-white border scale of a paper chart, as the run's time axis.

Its parts are whole seconds, or degrees where the run is a turn. It fills from the left as the run
goes, and at each mark of the run a flag drops from it that stays, with what was reached and its
figure. Passes of one step stand on it side by side, and a tab says which of them is run.
"""

from __future__ import annotations

import math
from typing import Any

from overlay.analysis.signals import Sample
from overlay.graphics import shapes
from overlay.graphics.instruments.base import Kind, Look, Part
from overlay.graphics.instruments.bench import Bench, Box, Size
from overlay.graphics.instruments.flags import Place
from overlay.graphics.instruments.sketch import Numeral, Sketch
from overlay.graphics.instruments.time_axis import FLAG_PAD, FLAG_ROW_GAP, UNIT_GAP, Cloth, Geometry
from overlay.graphics.layer import Layer
from overlay.graphics.spec_file import Key
from overlay.graphics.subject import RunMark
from sync.clock import TIME_TOLERANCE_S

POLE, HEAD = 0.0045, 0.004
"""Width of a flag's pole and of the end of the filling, as shares of the short side."""


class Strip(Part):
    """The scale itself, filled up to the instant."""

    def __init__(self, sketch: Sketch, filled: Layer, at: Geometry) -> None:
        super().__init__(sketch)
        self._filled = filled
        self._at = at
        self._run = sketch.bench.subject.run
        self._counted = self._run.counted

    def look(self, t_utc_s: float) -> Look:
        """See `Part.look`."""
        if t_utc_s < self._run.start_utc_s:
            return Look(key=None)
        along = self._counted.along(min(t_utc_s, self._run.stop_utc_s))
        return Look(key=round(self._at.axis.x(along)))

    def paint(self, layer: Layer, key: Any) -> None:
        """See `Part.paint`."""
        if key is None:
            return
        layer.become(self._filled, stop=key)
        self._head(layer, key)

    def mend(self, layer: Layer, last: Any, key: Any) -> bool:
        """See `Part.mend`: only what lies between two ends of the filling changes."""
        if last is None or key is None:
            return False
        width = self.bench.px(HEAD)
        left = max(0, (min(last, key) - width) // 2 * 2)
        right = min(self.box[2], -(-max(last, key) // 2) * 2)
        layer.become(self._still, left, right)
        layer.become(self._filled, left, key)
        self._head(layer, key)
        return True

    def _head(self, layer: Layer, key: int) -> None:
        """The end of the filling."""
        width = self.bench.px(HEAD)
        head = shapes.rectangle(
            key - width, self._at.edge_px - width, width, self._at.band_px + 2 * width
        )
        layer.cover(head, self.bench.colour("magenta_text"))


class Flag(Part):
    """One mark, from the instant at which it is passed."""

    def __init__(self, sketch: Sketch, numeral: Numeral, cloth: Cloth, mark: RunMark) -> None:
        super().__init__(sketch)
        self._numeral = numeral
        self._mark = mark
        self.from_utc_s = mark.t_utc_s
        sample = Sample(t_s=mark.t_utc_s, value=mark.value)
        shown = numeral.shown(cloth.number, sample, cloth.unit)
        self._look = Look(key=cloth.number, shown=(shown,))

    def look(self, t_utc_s: float) -> Look | None:
        """See `Part.look`."""
        return self._look if t_utc_s >= self._mark.t_utc_s - TIME_TOLERANCE_S else None

    def paint(self, layer: Layer, key: Any) -> None:
        """See `Part.paint`."""
        self._numeral.paint(layer, key)


class Tab(Part):
    """What is being done, or what the time is counted from."""

    def __init__(self, sketch: Sketch, cloth: Cloth) -> None:
        super().__init__(sketch)
        self.from_utc_s, self.to_utc_s = cloth.from_utc_s, cloth.to_utc_s
        self._from_utc_s = -math.inf if cloth.from_utc_s is None else cloth.from_utc_s
        self._to_utc_s = math.inf if cloth.to_utc_s is None else cloth.to_utc_s

    def look(self, t_utc_s: float) -> Look | None:
        """See `Part.look`."""
        now = t_utc_s + TIME_TOLERANCE_S
        return Look(key=None) if self._from_utc_s <= now < self._to_utc_s else None

    def paint(self, layer: Layer, key: Any) -> None:
        """Leave the still layer as it is."""


def size(bench: Bench) -> Size:
    """The whole width of the safe area, or what the faceplate asks for."""
    width = min(bench.least_width_px or bench.room_px, bench.room_px)
    width -= width % 2
    return width, Geometry(bench, width).height_px


def parts(bench: Bench, box: Box) -> tuple[Part, ...]:
    """The strip first, then the flags over it, the lower tiers before the upper."""
    at = Geometry(bench, box[2])
    strip_box = (box[0], box[1], box[2], at.strip_px)
    empty, filled = Sketch(bench, strip_box), Sketch(bench, strip_box)
    for sketch, full in ((empty, False), (filled, True)):
        _engrave(sketch, at, full=full)
    _point(empty, at)
    hung = sorted(zip(at.cloths, at.places, strict=True), key=lambda pair: -pair[1].tier)
    flags = [_flag(bench, box, at, cloth, place) for cloth, place in hung]
    tabs = [_tab(bench, box, cloth, at.tab_left(cloth, box[2]), at, 0) for cloth in at.tabs]
    return (Strip(empty, filled.layer, at), *flags, *tabs)


def _point(sketch: Sketch, at: Geometry) -> None:
    """Where the end of the filling is to be seen: above the band, which poles cross.

    On the smallest pictures its head is no higher than the frame's line, and nothing to be read.
    """
    bench, axis = sketch.bench, at.axis
    if bench.px(HEAD) <= bench.hairline_px:
        return
    sign = bench.subject.run.counted.sign
    sketch.pointer(
        ((axis.zero_px, at.edge_px), (axis.end_px, at.edge_px)),
        item="along",
        path="line",
        mark="ends",
        reach_px=(-float(bench.px(HEAD)), -float(bench.hairline_px)),
        low=0.0,
        high=float(axis.parts * axis.part),
        unit=sign,
        quantity="time" if sign == "s" else "angle",
        colour="magenta_text",
        from_utc_s=bench.subject.run.start_utc_s,
    )


def _engrave(sketch: Sketch, at: Geometry, *, full: bool) -> None:
    """The strip as it is before the run, or after it."""
    bench, axis = sketch.bench, at.axis
    line = bench.hairline_px
    _, _, width, height = sketch.box
    sketch.fill(shapes.rectangle(0, 0, width, height), "ink", bench.theme.opacity)
    top, bottom = at.edge_px, at.edge_px + at.band_px
    edge = "cream" if full else "engraving"
    for index in range(axis.parts):
        first = round(axis.x(index * axis.part))
        last = round(axis.x((index + 1) * axis.part))
        if index % 2 == 0:
            part = shapes.rectangle(first, top, last - first, at.band_px)
            sketch.fill(part, edge, 1.0 if full else 0.4)
        if index and not full:
            sketch.fill(shapes.rectangle(first, top, line, at.band_px), "engraving")
    span = axis.end_px - axis.zero_px
    for y in (top - line, bottom):
        sketch.fill(shapes.rectangle(axis.zero_px, y, span, line), edge)
    for x in (axis.zero_px - line, axis.end_px):
        sketch.fill(shapes.rectangle(x, top - line, line, at.band_px + 2 * line), edge)


def _flag(bench: Bench, box: Box, at: Geometry, cloth: Cloth, place: Place) -> Part:
    """A flag on its pole, which crosses the band at the very instant."""
    if cloth.mark is None:
        down = at.tabs_px + place.tier * at.flag_px
        return _tab(bench, box, cloth, place.left - place.left % 2, at, down)
    top = at.edge_px - at.edge_px % 2
    rope = at.strip_px + at.tabs_px + place.tier * at.flag_px - top
    left, width = place.left - place.left % 2, cloth.width_px
    sketch = Sketch(bench, (box[0] + left, box[1] + top, width, rope + at.flag_px))
    cloth_mask = shapes.rectangle(0, rope, width, at.flag_px)
    sketch.fill(cloth_mask, "magenta", bench.theme.opacity)
    across, pad = bench.px(POLE), bench.px(FLAG_PAD)
    pole = min(max(at.pole(cloth) - left, 0), width - across)
    beside = pole <= pad - 2 * across or pole >= width - pad + across
    down = rope + (at.flag_px if beside else 0)
    sketch.fill(shapes.rectangle(pole, at.edge_px - top, across, down), "magenta_text")
    baseline = rope + pad + bench.face("label").cap_px
    sketch.text(cloth.label, pad, baseline, "unit", ground="magenta")
    baseline += bench.px(FLAG_ROW_GAP) + bench.face("second").cap_px
    right = pad + bench.face("second").line(cloth.number).advance_px
    sketch.text(cloth.unit, right + bench.px(UNIT_GAP), baseline, "unit", ground="magenta")
    room = pole + across if beside and pole < pad else 0
    numeral = Numeral(
        sketch, "second", right, baseline, item=cloth.label, ground="magenta", left=room
    )
    return Flag(sketch, numeral, cloth, cloth.mark)


def _tab(bench: Bench, box: Box, cloth: Cloth, left: int, at: Geometry, down: int) -> Part:
    """A tab in ink, so far below the strip."""
    sketch = Sketch(
        bench, (box[0] + left, box[1] + at.strip_px + down, cloth.width_px, at.start_px)
    )
    _, _, width, height = sketch.box
    sketch.fill(shapes.rectangle(0, 0, width, height), "ink", bench.theme.opacity)
    pad = bench.px(FLAG_PAD)
    sketch.text(cloth.label, pad, pad + bench.face("label").cap_px, "unit", colour="buff")
    return Tab(sketch, cloth)


KIND = Kind(
    name="neatline",
    text="the run's time axis as a chart's border scale, with a flag at each mark",
    channels=(),
    size=size,
    parts=parts,
    options={"marks": Key(kind=bool, default=True, text="whether flags drop at the marks")},
    follows_from="speed",
)
