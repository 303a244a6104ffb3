"""A twin dial: one channel of two engines on one plate, port at the left, starboard at the right.

Both run on one scale, so that the pointers of engines in step lean alike.
"""

from __future__ import annotations

import math
from types import MappingProxyType

from overlay.graphics.instruments import dial, twin
from overlay.graphics.instruments.base import Kind, Part
from overlay.graphics.instruments.bench import Bench, Box, Size
from overlay.graphics.instruments.scale import Scale
from overlay.graphics.instruments.sketch import Sketch

ROW_GAP = 0.014
"""Between the head and the parts below it; these are shares of the short side."""

ARC_GAP = 0.004
"""Above the arcs, where their outermost line runs."""

BETWEEN = 0.022
"""Between the two arcs."""

LETTER_GAP = 0.017
"""Between the foot of a number and the letter below it."""


def _depth_px(bench: Bench, at: dial.Geometry) -> int:
    """How far an arc or the letter in its mouth reaches down from the middle of the arc."""
    letter_px = at.drop_px + bench.px(LETTER_GAP) + bench.face("label").cap_px
    return max(at.foot_px, letter_px)


def size(bench: Bench) -> Size:
    """Room for two arcs side by side under the head."""
    at = dial.Geometry(bench)
    arcs = 4 * math.ceil(at.rim_px) + bench.px(BETWEEN)
    width = max(arcs, twin.head_width(bench)) + 2 * bench.padding_px
    height = bench.px(ARC_GAP) + math.ceil(at.rim_px) + _depth_px(bench, at) + bench.padding_px
    width, height = max(width, bench.least_width_px), height + height % 2
    return width + width % 2, twin.head_height(bench, ROW_GAP) + height


def parts(bench: Bench, box: Box) -> tuple[Part, ...]:
    """The head, and under it a part for each engine."""
    head_px = twin.head_height(bench, ROW_GAP)
    middle = 2 * (box[2] // 4)
    left, top, bottom = box[0], box[1] + head_px, box[3] - head_px
    boxes = ((left, top, middle, bottom), (left + middle, top, box[2] - middle, bottom))
    pair = twin.sides(bench)
    scale = twin.common_scale(pair)
    halves = (_half(side, half, box, scale) for side, half in zip(pair, boxes, strict=True))
    return (twin.head(bench, box, head_px), *halves)


def _half(side: twin.Side, half: Box, whole: Box, scale: Scale) -> Part:
    """One engine's dial, its letter in the mouth of the arc."""
    bench, at = side.bench, dial.Geometry(side.bench)
    sketch = Sketch(bench, half)
    twin.shared_plate(sketch, whole)
    # Both dials stand in the middle between the plate's padding and half of the gap.
    inner, outer = bench.px(BETWEEN) / 2, bench.padding_px
    lean = (outer - inner) / 2 if side.item == "port" else (inner - outer) / 2
    # On an even column both are the same picture, colour for colour.
    centre = (2.0 * round((half[2] / 2 + lean) / 2), float(bench.px(ARC_GAP) + at.rim_px))
    face = bench.face("label")
    baseline = round(centre[1]) + at.drop_px + bench.px(LETTER_GAP) + face.cap_px
    x = round(centre[0] - face.line(side.letter).advance_px / 2)
    sketch.label(side.letter, x, baseline)
    return dial.dial_on(sketch, scale, at, centre, item=side.item)


KIND = Kind(
    name="twin_dial",
    text="one channel of two engines as two dials on one plate, port left, starboard right",
    channels=twin.CHANNELS,
    size=size,
    parts=parts,
    options=MappingProxyType(dict(dial.KIND.options)),
    twin=True,
)
