"""The picture of a card while it is drawn: R'G'B' with an alpha, so that it can lie over film.

Unlike instruments, which are blended into the planes of a frame, a card is a picture of its
own: it is kept premultiplied while masks are laid over each other, and handed out with straight
alpha, as PNG has it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from overlay.graphics.layer import Bytes, Mask
from overlay.graphics.light import Rgb
from overlay.graphics.picture import Picture

_Floats = NDArray[np.float32]


class Canvas:
    """A picture that nothing has been drawn on, and what is then laid over it."""

    def __init__(self, picture: Picture) -> None:
        shape = picture.height_px, picture.width_px
        self._colour: _Floats = np.zeros((*shape, 3), np.float32)
        self._alpha: _Floats = np.zeros(shape, np.float32)

    def cover(self, mask: Mask, colour: Rgb, opacity: float = 1.0) -> None:
        """Lay a mask over the picture in one colour; what stands outside is cut off.

        ::

            m = mask · opacity       colour' = colour · (1 - m) + new · m      a' = a · (1 - m) + m
        """
        left, top, width, height = mask.box
        rows, columns = self._alpha.shape
        x0, y0 = max(left, 0), max(top, 0)
        x1, y1 = min(left + width, columns), min(top + height, rows)
        if x1 <= x0 or y1 <= y0:
            return
        window = mask.alpha[y0 - top : y1 - top, x0 - left : x1 - left]
        share = window.astype(np.float32) * np.float32(opacity / 255)
        self._over(np.s_[y0:y1, x0:x1], np.asarray(colour, np.float32), share)

    def paste(self, image: Bytes, left: int, top: int) -> None:
        """Lay an opaque picture [shape=(rows, columns, 3)] over this one."""
        rows, columns = image.shape[:2]
        share = np.ones((rows, columns), np.float32)
        self._over(np.s_[top : top + rows, left : left + columns], image.astype(np.float32), share)

    def _over(self, where: tuple[slice, slice], colour: _Floats, share: _Floats) -> None:
        each = share[..., None]
        self._colour[where] = self._colour[where] * (1 - each) + colour * each
        self._alpha[where] = self._alpha[where] * (1 - share) + share

    def rgba(self) -> Bytes:
        """The picture with straight alpha [shape=(rows, columns, 4)]; read-only."""
        alpha = self._alpha[..., None]
        straight = self._colour / np.where(alpha > 0, alpha, 1)
        image = np.concatenate([straight, alpha * 255], axis=-1)
        out: Bytes = np.clip(np.rint(image), 0, 255).astype(np.uint8)
        out.flags.writeable = False
        return out
