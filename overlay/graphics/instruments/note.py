"""A note: who, what and where, in the words of the sheet. It never changes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from overlay.figures import NO_VALUE
from overlay.graphics.instruments.base import Kind, Look, Part
from overlay.graphics.instruments.bench import Bench, Box, Size
from overlay.graphics.instruments.sketch import Sketch
from overlay.graphics.layer import Layer
from overlay.graphics.spec_file import Key

FACTS = ("trial", "run", "boat", "engine", "propeller", "load", "conditions")
"""What a note may say, by the words that a faceplate has for it."""

ROW_GAP = 0.016
CUT = "…"


class Still(Part):
    """A plate that stays as it is."""

    def look(self, t_utc_s: float) -> Look:
        """See `Part.look`."""
        del t_utc_s
        return Look(key=None)

    def paint(self, layer: Layer, key: Any) -> None:
        """Leave the still layer as it is."""


def lines_of(bench: Bench, words: Sequence[str]) -> tuple[str, ...]:
    """What the sheet states of each word, cut where it would leave the safe area; the empty state
    where it states nothing."""
    room = bench.room_px - 2 * bench.padding_px
    stated = [bench.subject.facts[word] for word in words if word in bench.subject.facts]
    return tuple(_cut(bench, line, room) for line in stated) or (NO_VALUE,)


def _cut(bench: Bench, line: str, room_px: int) -> str:
    """A line that fits, less whole words where it is too long."""
    face = bench.face("label")
    if face.line(line).advance_px <= room_px:
        return line
    words = line.split()
    while len(words) > 1:
        words.pop()
        shorter = " ".join(words).rstrip(",;") + CUT
        if face.line(shorter).advance_px <= room_px:
            return shorter
    letters = words[0]
    while letters and face.line(letters + CUT).advance_px > room_px:
        letters = letters[:-1]
    return letters + CUT


def size_of(bench: Bench, lines: Sequence[str]) -> Size:
    """Room for some lines, under a label if there is one."""
    face = bench.face("label")
    width = max(face.line(line).advance_px for line in lines)
    if bench.label:
        width = max(width, bench.label_width(bench.label))
    rows = len(lines) + bool(bench.label)
    height = 2 * bench.padding_px + rows * face.cap_px + (rows - 1) * bench.px(ROW_GAP)
    width = max(width + 2 * bench.padding_px, bench.least_width_px)
    return min(width + width % 2, bench.room_px), height + height % 2


def plate_of(bench: Bench, box: Box, lines: Sequence[str]) -> tuple[Part, ...]:
    """A plate with some lines."""
    sketch = Sketch(bench, box)
    sketch.plate()
    step = bench.face("label").cap_px + bench.px(ROW_GAP)
    baseline = bench.padding_px + bench.face("label").cap_px
    if bench.label:
        sketch.label(bench.label, bench.padding_px, baseline)
        baseline += step
    for line in lines:
        sketch.text(line, bench.padding_px, baseline, "unit")
        baseline += step
    return (Still(sketch),)


def size(bench: Bench) -> Size:
    """Room for its lines."""
    return size_of(bench, lines_of(bench, bench.options["lines"]))


def parts(bench: Bench, box: Box) -> tuple[Part, ...]:
    """The plate with its lines."""
    return plate_of(bench, box, lines_of(bench, bench.options["lines"]))


KIND = Kind(
    name="note",
    text="who, what and where: a line each of what the sheet states",
    channels=(),
    size=size,
    parts=parts,
    options={
        "lines": Key(
            kind=tuple, default=("boat", "engine"), allowed=FACTS, text="what it says, in order"
        )
    },
)
