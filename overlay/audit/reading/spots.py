"""The places of a layout where letters stand, made ready to be read."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

import numpy as np

from overlay.audit.reading.drawing import NUMBER_LETTERS, TEXT_LETTERS, cap_px
from overlay.audit.reading.fonts import Fonts
from overlay.audit.reading.letters import Alphabet
from overlay.audit.reading.placing import Placement, Window
from overlay.audit.reading.products import Floats
from overlay.audit.reading.rows import STROKE_EM, Row
from overlay.errors import RenderError
from overlay.ledger import Field, Layout, Lettered, Still

MOST_DIGITS = 9
"""No number on the screen is longer."""

ROOM_EM = 1.3
"""So far beyond the end that the layout has for a still is looked at, in sizes of its font: what
stands there may be longer than what was drawn."""

LEAST_CAP_PX = 8.5
"""Text whose capitals are lower than this on the film cannot be read. Measured once: of about 680
texts on films of 640 by 360 brought to 0.6 to 1 of that, three were read wrong, all below 7; from
7.8 on none were."""

STILL_CLEAR_EM = 0.36
"""So much blank ground ends a still: more than there is between two words."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spot:
    """One field or still.

    Parameters
    ----------
    kind, index
        Whether it is a field or a still, and which of the layout's.
    window
        What is cut out of the picture, in pixels of the layout.
    row
        How it is searched.
    contrast, ground
        Code of luma that text lies over its plate, and the plate's, over footage of a middle grey.
    through
        How far the footage moves the plate's code, either way.
    too_small
        Whether the text is too small on the film to be read.
    """

    kind: Literal["field", "still"]
    index: int
    lettered: Lettered
    window: Window
    row: Row
    contrast: float
    ground: float
    through: float
    too_small: bool

    @property
    def item(self) -> str:
        """The field's item; empty for a still."""
        return self.lettered.item if isinstance(self.lettered, Field) else ""

    def covered(self, codes: Floats) -> Floats:
        """Codes of luma as how far text covers them, up to a constant; in place."""
        return np.multiply(codes, np.float32(1 / self.contrast), out=codes)

    def above_ground(self, covered: Floats) -> Floats:
        """How far coverage up to that constant lies above the plate."""
        return covered - np.float32(self.ground / self.contrast)


def spots_of(layout: Layout, fonts: Fonts, place: Placement, depth: int) -> list[Spot]:
    """Every field and still of a layout.

    Parameters
    ----------
    depth
        Bits of the codes of the film that is read, which may be other than the layout's.

    Raises
    ------
    RenderError
        Where a font is not here, or the layout names a colour that it does not have.
    """
    extra = "".join(sorted({letter for still in layout.stills for letter in still.text}))
    fields = [
        _field(n, field, layout, fonts, place, depth) for n, field in enumerate(layout.fields)
    ]
    stills = [
        _still(n, still, layout, fonts, place, depth, TEXT_LETTERS + extra)
        for n, still in enumerate(layout.stills)
    ]
    return fields + stills


def _field(
    index: int, field: Field, layout: Layout, fonts: Fonts, place: Placement, depth: int
) -> Spot:
    alphabet = _alphabet(fonts.path(field.font), field.size_px, NUMBER_LETTERS, 0, place.scale)
    left = max(field.plate_px[0], field.right_px - MOST_DIGITS * alphabet.widest_px)
    window = _window(field, alphabet, left, field.right_px)
    row = Row(
        alphabet=alphabet,
        start=window.right - window.left,
        leftward=True,
        # A number ends where ground is blank for as long as lies beside a letter, and a stroke.
        clear_px=_bearing(alphabet) + math.ceil(STROKE_EM * field.size_px) + 1,
    )
    contrast, ground, through = _levels(field, layout, depth)
    return Spot(
        kind="field", index=index, lettered=field, window=window, row=row,
        contrast=contrast, ground=ground, through=through,
        too_small=_too_small(fonts.path(field.font), field.size_px, place),
    )  # fmt: skip


def _still(
    index: int,
    still: Still,
    layout: Layout,
    fonts: Fonts,
    place: Placement,
    depth: int,
    letters: str,
) -> Spot:
    path = fonts.path(still.font)
    alphabet = _alphabet(path, still.size_px, letters, still.tracking_px, place.scale)
    end = still.box_px[0] + still.box_px[2]
    right = min(_plate_end(still, layout), end + math.ceil(ROOM_EM * still.size_px))
    window = _window(still, alphabet, still.left_px, right)
    row = Row(
        alphabet=alphabet,
        start=0,
        leftward=False,
        clear_px=math.ceil(STILL_CLEAR_EM * still.size_px) + still.tracking_px,
        ends_at=end - still.left_px,
    )
    contrast, ground, through = _levels(still, layout, depth)
    return Spot(
        kind="still", index=index, lettered=still, window=window, row=row,
        contrast=contrast, ground=ground, through=through,
        too_small=_too_small(fonts.path(still.font), still.size_px, place),
    )  # fmt: skip


def _plate_end(still: Still, layout: Layout) -> int:
    """The column behind a still's plate, as far as fields that stand on it tell where that is."""
    left, top, width, height = still.box_px
    ends = [
        x + wide
        for x, y, wide, high in (one.plate_px for one in layout.fields)
        if x <= left and left + width <= x + wide and y <= top and top + height <= y + high
    ]
    return min([layout.width_px, *ends])


def _too_small(path: Path, size_px: int, place: Placement) -> bool:
    return cap_px(path, size_px) * min(place.scale) < LEAST_CAP_PX


def _window(lettered: Lettered, alphabet: Alphabet, left: int, right: int) -> Window:
    baseline = lettered.baseline_px
    return Window(
        left=left,
        top=baseline - alphabet.above_px,
        right=right,
        bottom=baseline + alphabet.below_px,
    )


def _bearing(alphabet: Alphabet) -> int:
    """The most that lies between a letter's ink and the right edge of its cell."""
    widest = 0
    for group in alphabet.groups:
        for cell in group.cells:
            inked = np.flatnonzero((cell > 0.5).any(axis=0))
            if len(inked):
                widest = max(widest, group.advance_px - 1 - int(inked[-1]))
    return widest


@lru_cache(maxsize=256)
def _alphabet(
    path: Path, size_px: int, letters: str, tracking_px: int, scale: tuple[float, float]
) -> Alphabet:
    return Alphabet(path, size_px, letters, tracking_px=tracking_px, scale=scale)


def _levels(lettered: Lettered, layout: Layout, depth: int) -> tuple[float, float, float]:
    """Contrast of text to plate, the plate's code, and how far footage moves that."""
    for name in (lettered.colour, lettered.ground):
        if name not in layout.inks:
            raise RenderError(
                f"the layout in this ledger has no colour {name!r}",
                allowed=tuple(layout.inks),
                advice="audit the ledger that the render wrote",
            )
    step = 2.0 ** (depth - layout.depth)
    middle, through = 0.5 * 2**depth, (1 - layout.opacity) * 0.5 * 2**depth
    plate = layout.opacity * layout.inks[lettered.ground][0] * step
    ground = plate + (1 - layout.opacity) * middle
    return layout.inks[lettered.colour][0] * step - ground, ground, through
