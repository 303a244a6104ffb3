"""Reading no picture twice: one that hardly differs from another that was read has its text.

`room` has the proof that such a picture would read the same. Every picture is held against one that
was read itself, never against one that was kept, so that slow changes do not slip by.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overlay.audit.reading.judge import LEAST_CONFIDENCE
from overlay.audit.reading.products import Floats
from overlay.audit.reading.texts import Text

Codes = NDArray[np.number[Any]]

SHARE = 0.5
"""Share of the room that texts usually have within which a picture is expected to read the same."""


class Keeper:
    """Reads the pieces of one spot.

    Parameters
    ----------
    contrast
        Codes that text lies over its plate.
    read
        Reads pieces, in codes, which it may write over.
    """

    def __init__(self, contrast: float, read: Callable[[Floats], list[Text]]) -> None:
        self._square = contrast**2
        self._read = read
        self._usual = 0.0

    def read(self, codes: Codes) -> list[Text]:
        """The text in each picture [shape=(n, rows, columns)]."""
        model, apart = self._models(codes)
        texts: dict[int, Text] = {}
        self._into(texts, codes, sorted(set(model)))
        self._usual = float(np.median([one.room for one in texts.values()]))
        for n, (own, square) in enumerate(zip(model, apart, strict=True)):
            if n != own and square <= texts[own].room:
                texts[n] = kept(texts[own], square)
        self._into(texts, codes, [n for n in range(len(codes)) if n not in texts])
        return [texts[n] for n in range(len(codes))]

    def _into(self, texts: dict[int, Text], codes: Codes, which: Sequence[int]) -> None:
        if which:
            texts.update(zip(which, self._read(codes[which].astype(np.float32)), strict=True))

    def _models(self, codes: Codes) -> tuple[list[int], list[float]]:
        """For each picture the one before it that it is held against, which may be itself, and how
        far they are apart in squared coverage."""
        import cv2

        model, apart = [0], [0.0]
        for n in range(1, len(codes)):
            square = cv2.norm(codes[n], codes[model[-1]], cv2.NORM_L2SQR) / self._square
            fresh = square > SHARE * self._usual
            model.append(n if fresh else model[-1])
            apart.append(0.0 if fresh else square)
        return model, apart


def kept(text: Text, square: float) -> Text:
    """The text of a picture that differs by so much from one that was read; how sure it is at
    least."""
    share = 1 - (square / text.room) ** 0.5 if square else 1.0
    sure = LEAST_CONFIDENCE + (text.confidence - LEAST_CONFIDENCE) * share
    return replace(text, confidence=sure, room=0.0)
