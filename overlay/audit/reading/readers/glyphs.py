"""The reader that holds the letters of the font's file against the pixels."""

from __future__ import annotations

from functools import partial

import numpy as np

from overlay.audit.reading.blank import blank, ends
from overlay.audit.reading.keeping import Codes, Keeper
from overlay.audit.reading.products import Floats
from overlay.audit.reading.result import UNREAD
from overlay.audit.reading.room import room_of_nothing
from overlay.audit.reading.rows import Chain, pen_after
from overlay.audit.reading.search import goes_on, search
from overlay.audit.reading.spots import Spot
from overlay.audit.reading.texts import Text, read_row, texts_of

EMPTY_EM = 1.0
"""A field counts as empty where so much of its plate is blank, in sizes of its font."""

EMPTY_GROUND = 0.08
"""The plate of an empty field may be so much darker or lighter than footage through it makes it,
in shares of the contrast of text (own choice; black lies 0.16 below the plate)."""

EMPTY_SPREAD = 0.15
"""Its pixels may vary by so much (standard deviation of coverage; what encoders make of a plate
over spray at CRF 28 has 0.05)."""

SURE = 0.6
"""A still that was as sure as this in one picture is held against the next ones first."""


class GlyphReader:
    """See `overlay.audit.reading.search` and `judge`."""

    def __init__(self) -> None:
        self._known: dict[int, Chain] = {}
        self._keepers: dict[tuple[str, int], Keeper] = {}

    def read(self, spot: Spot, codes: Codes) -> list[Text]:
        """See `Reader.read`."""
        key = (spot.kind, spot.index)
        if key not in self._keepers:
            self._keepers[key] = Keeper(spot.contrast, partial(self._look, spot))
        return self._keepers[key].read(codes)

    def _look(self, spot: Spot, codes: Floats) -> list[Text]:
        covered = spot.covered(codes)
        if spot.kind == "still":
            return self._still(spot, covered)
        texts = read_row(covered, spot.row)
        return [
            one if one.text else _empty(spot, covered[n : n + 1]) for n, one in enumerate(texts)
        ]

    def _still(self, spot: Spot, covered: Floats) -> list[Text]:
        """Stills do not change: what one picture has is looked for in the others, letter by letter
        against all others of its advance, and a picture where that does not hold is searched."""
        known = self._known.get(spot.index)
        if known is None:
            chains, well = search(covered[:1], spot.row)
            known = chains[0]
            if texts_of(covered[:1], spot.row, known, well)[0].confidence >= SURE:
                self._known[spot.index] = known
        pen = pen_after(known, spot.row)
        clear = ends(covered, spot.row, pen)
        if spot.row.near_end(pen):  # something else may stand there, but no letter
            rest = np.flatnonzero(~clear)
            if len(rest):
                clear[rest] = ~goes_on(covered[rest], spot.row, pen)
        texts = texts_of(covered, spot.row, known, clear)
        unsure = [n for n, one in enumerate(texts) if not one.legible or one.confidence < SURE]
        if unsure:
            for n, one in zip(unsure, read_row(covered[unsure], spot.row), strict=True):
                texts[n] = one
        return texts


def _empty(spot: Spot, covered: Floats) -> Text:
    """An empty field is plate and nothing else; black, or a cloth over it, is not."""
    width = covered.shape[2]
    low = max(0, width - round(EMPTY_EM * spot.row.alphabet.size_px))
    level = float(np.median(spot.above_ground(covered[:, :, low:])))
    reach = EMPTY_GROUND + spot.through / abs(spot.contrast)
    even = float(covered[:, :, low:].std()) <= EMPTY_SPREAD
    if even and abs(level) <= reach and bool(blank(covered, low, width, spot.row)[0]):
        return Text("", 1.0, room_of_nothing(spot.row))
    return Text(UNREAD, 0.0)
