"""The reader that holds the letters of the font's file against the pixels."""

from __future__ import annotations

import numpy as np

from overlay.audit.reading.blank import blank, ends
from overlay.audit.reading.products import Floats
from overlay.audit.reading.result import UNREAD
from overlay.audit.reading.rows import Chain, pen_after
from overlay.audit.reading.search import search
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

    def read(self, spot: Spot, codes: Floats) -> list[Text]:
        """See `Reader.read`."""
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
            clear = ends(covered, spot.row, pen_after(known, spot.row))
            if not clear[0]:  # it ends for want of ground, and what stands there may change
                clear[:] = well[0]
            elif texts_of(covered[:1], spot.row, known, well)[0].confidence >= SURE:
                self._known[spot.index] = known
        else:
            clear = ends(covered, spot.row, pen_after(known, spot.row))
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
        return Text("", 1.0)
    return Text(UNREAD, 0.0)
