"""A twin bar: one channel of two engines on one plate, port above, starboard below.

Both bars stand on one scale bar, their ends close together, so that an eye sees which engine
runs ahead.
"""

from __future__ import annotations

from types import MappingProxyType

from overlay.graphics.instruments import bar, twin
from overlay.graphics.instruments.base import Kind, Part
from overlay.graphics.instruments.bench import Bench, Box, Size
from overlay.graphics.instruments.scale_bar import ScaleBar
from overlay.graphics.instruments.sketch import Numeral, Sketch

LENGTH = 0.385
"""Length of the scale bar; these are shares of the short side."""

HEAD_GAP = 0.020
ROW_GAP = 0.012
"""Between the numbers of the two rows."""

LETTER_GAP = 0.012
"""Between a letter and its track."""

NUMBER_GAP = 0.020
"""Between a track and its number."""


def _row_px(bench: Bench) -> int:
    """Height of a row; even, so that parts can stand below one another."""
    height = max(bench.face("second").cap_px + bench.px(ROW_GAP), bench.px(bar.TRACK))
    return height + height % 2


def _columns(bench: Bench) -> tuple[int, int]:
    """What stands to the left and to the right of the tracks, paddings included."""
    face = bench.face("label")
    letters = max(face.line(letter).advance_px for _, letter in twin.LETTERS)
    number = bench.face("second").line(bench.how.widest()).advance_px
    left = bench.padding_px + letters + bench.px(LETTER_GAP)
    return left, bench.px(NUMBER_GAP) + number + bench.padding_px


def _scale_bar(bench: Bench, width: int) -> ScaleBar:
    left, right = _columns(bench)
    scale = twin.common_scale(twin.sides(bench))
    return ScaleBar(scale=scale, left_px=left, right_px=width - right)


def size(bench: Bench) -> Size:
    """Room for two rows and the scale bar under the head."""
    width = max(
        sum(_columns(bench)) + bench.px(LENGTH),
        twin.head_width(bench) + 2 * bench.padding_px,
        bench.least_width_px,
    )
    foot = _scale_bar(bench, width).height_px(bench) + bench.padding_px
    height = twin.head_height(bench, HEAD_GAP) + 2 * _row_px(bench) + foot
    return width + width % 2, height + height % 2


def parts(bench: Bench, box: Box) -> tuple[Part, ...]:
    """The head, and under it a part for each engine, the lower with the scale bar."""
    head_px, row_px = twin.head_height(bench, HEAD_GAP), _row_px(bench)
    left, top, width, height = box
    rows = (
        (left, top + head_px, width, row_px),
        (left, top + head_px + row_px, width, height - head_px - row_px),
    )
    scale_bar = _scale_bar(bench, width)
    upper, lower = (
        _row(side, row, box, scale_bar) for side, row in zip(twin.sides(bench), rows, strict=True)
    )
    return (twin.head(bench, box, head_px), upper, lower)


def _row(side: twin.Side, row: Box, whole: Box, scale_bar: ScaleBar) -> Part:
    """One engine's letter, track and number; below the last row stands the scale bar."""
    bench = side.bench
    sketch = Sketch(bench, row)
    twin.shared_plate(sketch, whole)
    track_px, row_px = bench.px(bar.TRACK), _row_px(bench)
    last = row[1] + row[3] == whole[1] + whole[3]
    # The upper track stands in the middle of its number, the lower down on the scale bar.
    top = row_px - track_px if last else (row_px - track_px) // 2
    label, number = bench.face("label"), bench.face("second")
    middle = top + track_px / 2
    sketch.label(side.letter, bench.padding_px, round(middle + label.cap_px / 2))
    bar.engrave_track(sketch, scale_bar, top, side.item)
    if last:
        scale_bar.engrave(sketch, row_px)
    right, baseline = whole[2] - bench.padding_px, round(middle + number.cap_px / 2)
    numeral = Numeral(sketch, "second", right, baseline, item=side.item)
    return bar.Bar(sketch, numeral, scale_bar, top)


KIND = Kind(
    name="twin_bar",
    text="one channel of two engines as bars on one scale bar, port above, starboard below",
    channels=twin.CHANNELS,
    size=size,
    parts=parts,
    options=MappingProxyType(dict(bar.KIND.options)),
    twin=True,
)
