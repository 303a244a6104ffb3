"""Letters as a font's file draws them, each with its advance, and which of them look alike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.reading.products import Floats

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

NUMBER_LETTERS = "0123456789.,:+−–"
"""What a field may hold: numerals, signs, and the dash of which two say that there is no value."""

UNUSED = "|`~^_{}\\"
"""Signs of ASCII that no text on a picture has, and that lines and dirt are easily taken for."""

TEXT_LETTERS = (
    "".join(chr(code) for code in range(0x20, 0x7F) if chr(code) not in UNUSED) + "°·²³–−…×±"
)
"""What a still may hold: printable ASCII and the signs of units; `spots` adds what a layout has."""

ALIKE = 0.04
"""Two letters are one picture where their cells differ in less than this share of the ink of the
smaller one, in squared coverage (own choice; what falls under it is told by `same_picture`)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawn:
    """A letter with room about it: its coverage, the place of its origin in it, its advance."""

    ink: Floats
    origin: int
    advance_px: int

    @property
    def top(self) -> int:
        """The first row with ink, counted from the baseline."""
        return int(np.flatnonzero(self.ink.any(axis=1))[0]) - self.origin

    @property
    def foot(self) -> int:
        """The row after the last with ink."""
        return int(np.flatnonzero(self.ink.any(axis=1))[-1]) + 1 - self.origin

    def cell(self, above: int, below: int, advance: int, scale: tuple[float, float]) -> Floats:
        """What is seen in its cell."""
        ink = _there_and_back(self.ink, scale)
        rows = ink[self.origin - above : self.origin + below]
        return np.ascontiguousarray(rows[:, self.origin : self.origin + advance])


def _there_and_back(ink: Floats, scale: tuple[float, float]) -> Floats:
    """A letter that was shrunk with its film and brought back to its size."""
    if min(scale) >= 1.0:
        return ink
    import cv2

    rows, columns = ink.shape
    size = (max(1, round(columns * scale[0])), max(1, round(rows * scale[1])))
    small = cv2.resize(ink, size, interpolation=cv2.INTER_AREA)
    back = cv2.resize(small, (columns, rows), interpolation=cv2.INTER_CUBIC)
    return np.asarray(back, dtype=np.float32)


@lru_cache(maxsize=64)
def cap_px(path: Path, size_px: int) -> int:
    """Rows of a capital."""
    drawn = _draw(font_of(path, size_px), "H")
    return drawn.foot - drawn.top if drawn.ink.any() else size_px


@lru_cache(maxsize=64)
def font_of(path: Path, size_px: int) -> FreeTypeFont:
    """A font's file at a size."""
    from PIL import ImageFont

    return ImageFont.truetype(str(path), size_px, layout_engine=ImageFont.Layout.BASIC)


def _draw(font: FreeTypeFont, letter: str) -> Drawn:
    from PIL import Image, ImageDraw

    origin = 2 * int(font.size)
    image = Image.new("L", (2 * origin, 2 * origin))
    ImageDraw.Draw(image).text((origin, origin), letter, font=font, fill=255, anchor="ls")
    ink = np.asarray(image, dtype=np.float32) / np.float32(255)
    return Drawn(ink=ink, origin=origin, advance_px=round(font.getlength(letter)))


def drawn_letters(font: FreeTypeFont, letters: str) -> dict[str, Drawn]:
    """Each letter once, without those that the font draws as it draws what it has not."""
    absent = _draw(font, "\uffff").ink
    drawn = {letter: _draw(font, letter) for letter in dict.fromkeys(letters)}
    return {
        letter: one
        for letter, one in drawn.items()
        if not absent.any() or not np.array_equal(one.ink, absent)
    }


def classes_of(drawn: Mapping[str, Drawn]) -> dict[str, str]:
    """Letters that look alike, under the first of each.

    Only letters of one advance can be alike: others move what stands after them.
    """
    classes: dict[str, str] = {}
    for letter, one in drawn.items():
        for other in classes:
            if drawn[other].advance_px == one.advance_px and _alike(one.ink, drawn[other].ink):
                classes[other] += letter
                break
        else:
            classes[letter] = letter
    return classes


def _alike(one: Floats, other: Floats) -> bool:
    least = min(float((one**2).sum()), float((other**2).sum()))
    return float(((one - other) ** 2).sum()) <= ALIKE * least


def same_picture(path: Path, size_px: int, letters: str = TEXT_LETTERS) -> dict[str, str]:
    """Letters that this font draws alike at this size, and the one of them that is read.

    In Source Sans Pro none of `TEXT_LETTERS` are, from 20 pixels on.
    """
    classes = classes_of(drawn_letters(font_of(path, size_px), letters))
    return {letter: first for first, alike in classes.items() for letter in alike}
