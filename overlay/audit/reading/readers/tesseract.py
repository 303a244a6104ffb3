"""A second reader, which knows nothing of the font: Tesseract, through pytesseract.

It takes a tenth of a second and more for each text, and so is for a sample of frames. It has no
en dash of a field and no true minus sign; what it says of dashes is brought to the signs that
fields have. Where it is less sure than `LEAST`, nothing is read.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from overlay.audit.reading.keeping import Codes
from overlay.audit.reading.products import Floats
from overlay.audit.reading.result import UNREAD
from overlay.audit.reading.spots import Spot
from overlay.audit.reading.texts import Text
from overlay.errors import RenderError

if TYPE_CHECKING:
    from numpy.typing import NDArray

CAP_PX = 36.0
"""Capitals are brought to this height, at which Tesseract reads best (its own documentation asks
for 20 pixels and more of x-height; measured on our texts)."""

ROOM_PX = 24
"""White that is put around each piece; a letter at its very edge is not found."""

LEAST = 0.5
"""Least confidence of a word, of which Tesseract tells hundredths."""

END_PX = 3
"""A still's ink is looked at so far beyond its end in the layout."""

BARE = 0.3
"""A field is empty where nothing on it is covered by more than this."""

DASHES = "-–—−_~"
_NUMBER = "-c tessedit_char_whitelist=0123456789.,:+-–"
_ONE_LINE = "--psm 7"


class TesseractReader:
    """See the module.

    Raises
    ------
    RenderError
        Where pytesseract or Tesseract itself is not installed.
    """

    def __init__(self) -> None:
        try:
            import pytesseract
        except ImportError as cause:
            raise RenderError(
                "the reader tesseract needs pytesseract, which is not installed",
                advice='install it with: pip install "trialreel[reader]"',
            ) from cause
        try:
            pytesseract.get_tesseract_version()
        except (pytesseract.TesseractNotFoundError, SystemExit) as cause:
            raise RenderError(
                "the reader tesseract needs the program of that name, which is not installed",
                advice="install it; on Debian: apt-get install tesseract-ocr",
            ) from cause
        self._ask: Any = pytesseract.image_to_data

    def read(self, spot: Spot, codes: Codes) -> list[Text]:
        """See `Reader.read`."""
        return [self._one(spot, picture) for picture in codes]

    def _one(self, spot: Spot, codes: Codes) -> Text:
        field = spot.kind == "field"
        setting = f"{_ONE_LINE} {_NUMBER}" if field else _ONE_LINE
        image = _as_print(spot, codes)
        if image is None:
            bare = field and float(np.abs(codes - spot.ground).max()) < BARE * abs(spot.contrast)
            return Text("", 1.0) if bare else Text(UNREAD, 0.0)
        found = self._ask(image, lang="eng", config=setting, output_type="dict")
        words = [
            (word, float(sure) / 100)
            for word, sure in zip(found["text"], found["conf"], strict=True)
            if word.strip()
        ]
        sure = min((share for _, share in words), default=0.0)
        text = ("" if field else " ").join(word for word, _ in words)
        if sure < LEAST:
            return Text(UNREAD, sure)
        return Text(_signs(text) if field else text, sure)


def _as_print(spot: Spot, codes: Codes) -> NDArray[np.uint8] | None:
    """A piece as black letters on white paper, cut to where its text lies; None where there is
    nothing on it."""
    import cv2

    covered = np.clip((codes - spot.ground) / spot.contrast, 0, 1)
    part = covered[:, slice(*_extent(spot, covered))]
    if part.size == 0 or float(part.max()) < 0.5:
        return None
    scale = CAP_PX / (0.66 * spot.row.alphabet.size_px)
    size = (max(1, round(part.shape[1] * scale)), max(1, round(part.shape[0] * scale)))
    large = cv2.resize(part.astype(np.float32), size, interpolation=cv2.INTER_CUBIC)
    paper = np.pad(np.clip(large, 0, 1), ROOM_PX)
    image: NDArray[np.uint8] = np.rint(255 * (1 - paper)).astype(np.uint8)
    return image


def _extent(spot: Spot, covered: Floats) -> tuple[int, int]:
    """From where to where text lies, up to the first wide gap or to where the layout has a still's
    end: other things may stand beyond."""
    rows = slice(2, spot.row.alphabet.above_px)
    ink = (covered[rows] > 0.5).mean(axis=0)
    inked = (ink > 0.02) & (ink < 0.97)
    if spot.row.ends_at is not None:
        inked[spot.row.ends_at + END_PX :] = False
    gap = round(0.8 * spot.row.alphabet.size_px)
    places = np.flatnonzero(inked[::-1] if spot.row.leftward else inked)
    if not len(places):
        return 0, 0
    breaks = np.flatnonzero(np.diff(places, prepend=0) > gap)
    last = int(places[breaks[0] - 1]) if len(breaks) and breaks[0] else int(places[-1])
    width = covered.shape[1]
    return (width - last - 2, width) if spot.row.leftward else (0, last + 2)


def _signs(text: str) -> str:
    """Dashes as fields have them."""
    plain = text.replace(" ", "")
    if plain and all(letter in DASHES for letter in plain):
        return "––"
    return "".join("−" if letter in DASHES else letter for letter in plain)
