"""A readout: a label, a large number in columns that stay, and its unit."""

from __future__ import annotations

from typing import Any

from overlay.graphics.instruments.base import Kind, Look, Part
from overlay.graphics.instruments.bench import FRAME_INSET, Bench, Box, Size
from overlay.graphics.instruments.sketch import Numeral, Sketch
from overlay.graphics.layer import Layer
from overlay.graphics.spec_file import Key
from sync.channel_kinds import CHANNELS

ROW_GAP = 0.018
"""Between the label and the top of the number, as a share of the short side."""

UNIT_GAP = 0.012
"""Between the number and its unit."""

NEVER_SHOWN = ("latitude", "longitude", "gear")
"""Where the boat was is nobody's business but the crew's, and a gear is no number."""


class Readout(Part):
    """One number, repainted when its text changes."""

    by_sample = True

    def __init__(self, sketch: Sketch, numeral: Numeral) -> None:
        super().__init__(sketch)
        self._numeral = numeral

    def look(self, t_utc_s: float) -> Look:
        """See `Part.look`."""
        sample = self.bench.sample(t_utc_s)
        text = self.bench.how.text(sample.value)
        shown = self._numeral.shown(text, sample, self.bench.how.unit)
        return Look(key=text, shown=(shown,))

    def paint(self, layer: Layer, key: Any) -> None:
        """See `Part.paint`."""
        self._numeral.paint(layer, key)


def _unit(bench: Bench) -> tuple[str, int]:
    """The lettering of the unit and the room before it: a degree sign belongs to its number."""
    if bench.how.unit == "°":
        return bench.options["size"], 0
    return "unit", bench.px(UNIT_GAP)


def _unit_px(bench: Bench) -> int:
    role, gap = _unit(bench)
    return gap + bench.face(role).line(bench.how.unit).advance_px


def _foot_px(bench: Bench) -> int:
    """Room below the baseline: a comma hangs below it."""
    comma = bench.face(bench.options["size"]).line(bench.how.decimal_sign).ink
    hangs = comma.top + comma.alpha.shape[0]
    return max(bench.padding_px, int(hangs) + 3 * bench.px(FRAME_INSET) // 2)


def size(bench: Bench) -> Size:
    """Room for the widest number and its unit, or for the label, whichever is wider."""
    face = bench.face(bench.options["size"])
    number = face.line(bench.how.widest()).advance_px + _unit_px(bench)
    width = max(number, bench.label_width(bench.label)) + 2 * bench.padding_px
    height = bench.padding_px + bench.face("label").cap_px + bench.px(ROW_GAP) + face.cap_px
    height += _foot_px(bench)
    width = max(width, bench.least_width_px)
    return width + width % 2, height + height % 2


def parts(bench: Bench, box: Box) -> tuple[Part, ...]:
    """The plate with its label and unit, and the number on it."""
    sketch = Sketch(bench, box)
    sketch.plate()
    sketch.label(bench.label, bench.padding_px, bench.padding_px + bench.face("label").cap_px)
    baseline = box[3] - _foot_px(bench)
    right = box[2] - bench.padding_px - _unit_px(bench)
    role, gap = _unit(bench)
    sketch.text(bench.how.unit, right + gap, baseline, role)
    return (Readout(sketch, Numeral(sketch, bench.options["size"], right, baseline)),)


KIND = Kind(
    name="readout",
    text="one channel as a number with its label and unit",
    channels=tuple(name for name in CHANNELS if name not in NEVER_SHOWN),
    size=size,
    parts=parts,
    options={"size": Key(kind=str, default="second", allowed=("lead", "second"))},
)
