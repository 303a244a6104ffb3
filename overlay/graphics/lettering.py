"""Letters and numerals as masks, drawn glyph by glyph on whole pixels.

Sizes are asked for as the height of capital letters and lining numerals, since that is
what an eye measures; the font's own size follows. Each glyph stands at the sum of
the rounded advances before it, without kerning, so that numerals keep their columns.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from overlay.errors import FaceplateError
from overlay.graphics.layer import Bytes, Mask

DIGITS = "0123456789"
FLAT = "H17"
"""Letters whose tops and feet are flat, to measure a font's capitals and numerals by."""

_NO_GLYPH = "\uffff"
_EMPTY: Bytes = np.zeros((0, 0), np.uint8)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Glyph:
    """One glyph: its ink relative to its origin on the baseline, and its advance."""

    ink: Mask
    advance_px: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A line of text: its ink relative to its origin on the baseline, and its advance."""

    text: str
    ink: Mask
    advance_px: int

    def at(self, x: int, baseline: int) -> Mask:
        """The ink of the line with its origin at a place."""
        return self.ink.moved(x, baseline)


class Face:
    """A font at one size.

    Parameters
    ----------
    path
        The font's file.
    cap_px
        Least height in pixels of a capital letter and of a numeral; the font's size is the
        smallest that gives it.
    """

    def __init__(self, path: Path, cap_px: int) -> None:
        self.path = path
        self.size_px = _size_for(path, cap_px)
        self._font = _font(path, self.size_px)
        self._glyphs: dict[str, Glyph] = {}
        self._lines = lru_cache(maxsize=512)(self._set)

    @property
    def file_name(self) -> str:
        """Name of the font's file."""
        return self.path.name

    @cached_property
    def cap_px(self) -> int:
        """Height of a capital letter."""
        return int(self.glyph("H").ink.alpha.shape[0])

    @cached_property
    def digit_px(self) -> int:
        """Advance that all numerals share.

        Raises
        ------
        FaceplateError
            Where the font's numerals are not of one width.
        """
        advances = {self.glyph(digit).advance_px for digit in DIGITS}
        if len(advances) > 1:
            raise FaceplateError(
                "the numerals of this font differ in width, so that numbers would dance",
                path=self.path,
                advice="choose a font with tabular numerals",
            )
        return advances.pop()

    def glyph(self, letter: str) -> Glyph:
        """One glyph.

        Raises
        ------
        FaceplateError
            Where the font does not have it.
        """
        if letter not in self._glyphs:
            ink = _ink(self._font, letter)
            absent = self._absent
            if letter != _NO_GLYPH and np.array_equal(ink.alpha, absent) and absent.size:
                raise FaceplateError(
                    f"the font has no glyph for {letter!r}",
                    path=self.path,
                    advice="write the label without it, or choose another font in the theme",
                )
            advance = round(self._font.getlength(letter))
            self._glyphs[letter] = Glyph(ink=ink, advance_px=advance)
        return self._glyphs[letter]

    def line(self, text: str, tracking_px: int = 0) -> Line:
        """A line of text, with some pixels more between its letters if wanted."""
        return self._lines(text, tracking_px)

    @cached_property
    def _absent(self) -> Bytes:
        return _ink(self._font, _NO_GLYPH).alpha

    def _set(self, text: str, tracking_px: int) -> Line:
        placed: list[Mask] = []
        x = 0
        for letter in text:
            glyph = self.glyph(letter)
            if glyph.ink.alpha.size:
                placed.append(glyph.ink.moved(x, 0))
            x += glyph.advance_px + tracking_px
        advance = x - tracking_px if text else 0
        return Line(text=text, ink=_joined(placed), advance_px=advance)


class Lettering:
    """The faces of a theme, each made once.

    Parameters
    ----------
    fonts
        Font files by their part in the theme: `strong` and `plain`.
    """

    def __init__(self, fonts: Mapping[str, Path]) -> None:
        self._fonts = dict(fonts)
        self._faces: dict[tuple[str, int], Face] = {}

    def face(self, weight: str, cap_px: int) -> Face:
        """A weight at a height of capitals."""
        key = (weight, cap_px)
        if key not in self._faces:
            self._faces[key] = Face(self._fonts[weight], cap_px)
        return self._faces[key]


def _font(path: Path, size_px: int) -> ImageFont.FreeTypeFont:
    try:
        # The basic layout does no shaping: glyphs are set one by one here anyway.
        return ImageFont.truetype(str(path), size_px, layout_engine=ImageFont.Layout.BASIC)
    except OSError as cause:
        raise FaceplateError(
            "this font cannot be opened",
            path=path,
            advice="name a TrueType or OpenType font file in the theme",
        ) from cause


@lru_cache(maxsize=256)
def _size_for(path: Path, cap_px: int) -> int:
    """The smallest size of a font whose capitals and numerals are at least so high."""
    size = max(4, round(cap_px * 1.2))
    while min(_ink(_font(path, size), flat).alpha.shape[0] for flat in FLAT) < cap_px:
        size += 1
    return size


def _ink(font: ImageFont.FreeTypeFont, letter: str) -> Mask:
    """What a glyph blackens, cut to its ink."""
    size = int(font.size)
    room = (3 * size, 3 * size)
    image = Image.new("L", room)
    ImageDraw.Draw(image).text((size, 2 * size), letter, font=font, fill=255, anchor="ls")
    box = image.getbbox()
    if box is None:
        return Mask(left=0, top=0, alpha=_EMPTY)
    alpha = np.array(image.crop(box), dtype=np.uint8)
    return Mask(left=box[0] - size, top=box[1] - 2 * size, alpha=alpha)


def _joined(masks: list[Mask]) -> Mask:
    """Several masks as one, the darkest of each pixel."""
    if not masks:
        return Mask(left=0, top=0, alpha=_EMPTY)
    left = min(mask.left for mask in masks)
    top = min(mask.top for mask in masks)
    right = max(mask.left + mask.alpha.shape[1] for mask in masks)
    bottom = max(mask.top + mask.alpha.shape[0] for mask in masks)
    alpha = np.zeros((bottom - top, right - left), np.uint8)
    for mask in masks:
        x, y, width, height = mask.left - left, mask.top - top, *mask.alpha.shape[::-1]
        view = alpha[y : y + height, x : x + width]
        np.maximum(view, mask.alpha, out=view)
    return Mask(left=left, top=top, alpha=alpha)
