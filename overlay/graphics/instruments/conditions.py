"""A conditions line: wind, sea, air and water on one low plate, as the sheet states them."""

from __future__ import annotations

from overlay.graphics.instruments.base import Kind, Part
from overlay.graphics.instruments.bench import Bench, Box, Size
from overlay.graphics.instruments.note import lines_of, plate_of, size_of

WORDS = ("conditions",)


def size(bench: Bench) -> Size:
    """Room for the line."""
    return size_of(bench, lines_of(bench, WORDS))


def parts(bench: Bench, box: Box) -> tuple[Part, ...]:
    """The plate with its line."""
    return plate_of(bench, box, lines_of(bench, WORDS))


KIND = Kind(
    name="conditions",
    text="wind, sea, air and water in one line",
    channels=(),
    size=size,
    parts=parts,
)
