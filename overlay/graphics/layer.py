"""What is drawn before it meets a frame: premultiplied Y'CbCr, and the blend into the planes.

Coverage is counted in 256ths, so that a blend is a multiplication, an addition and a shift,
exact to half a code. Where several pixels share a chroma sample, the coverage of a mask is its
mean over them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overlay.graphics.picture import Picture, Yuv

Bytes = NDArray[np.uint8]
Codes = NDArray[np.unsignedinteger[Any]]
Words = NDArray[np.unsignedinteger[Any]]
Planes = tuple[Codes, Codes, Codes] | tuple[Codes, Codes, Codes, Codes]
"""Y, U and V; a fourth is the coverage of a picture that has one, at the size of Y."""

WHOLE = 256
"""Full coverage."""

_ALPHAS = np.arange(256)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mask:
    """A one-colour shape: how far it covers each pixel (0 to 255), and where it stands.

    `left` and `top` count from the corner of whatever it is drawn on.
    """

    left: int
    top: int
    alpha: Bytes

    @property
    def box(self) -> tuple[int, int, int, int]:
        """Left, top, width and height."""
        height, width = self.alpha.shape
        return self.left, self.top, width, height

    def moved(self, dx: int, dy: int) -> Mask:
        """The same shape further right and down."""
        return Mask(left=self.left + dx, top=self.top + dy, alpha=self.alpha)


class Layer:
    """A rectangle of premultiplied colour, even in size and to be placed at even positions.

    Parameters
    ----------
    width_px, height_px
        Size; both even.
    chroma, depth
        As the picture that it is for has them.
    """

    __slots__ = (
        "_chroma_work", "_depth", "_luma_work", "_opaque", "_rounded", "_stale", "chroma", "rest",
        "rest_chroma", "u", "v", "y",
    )  # fmt: skip

    def __init__(
        self, width_px: int, height_px: int, *, chroma: tuple[int, int] = (2, 2), depth: int = 8
    ) -> None:
        if width_px % 2 or height_px % 2 or width_px <= 0 or height_px <= 0:
            raise ValueError(f"a layer of {width_px}x{height_px} is not even in size")
        # A code of 8 bits times 256, and half of that, fit into 16 bits; deeper ones do not.
        words = np.uint16 if depth == 8 else np.uint32
        luma, small = (height_px, width_px), (height_px // chroma[1], width_px // chroma[0])
        self.chroma = chroma
        self._depth = depth
        self.y: Words = np.zeros(luma, words)
        self.u: Words = np.zeros(small, words)
        self.v: Words = np.zeros(small, words)
        # What is left of the picture below, in 256ths.
        self.rest: Words = np.full(luma, WHOLE, words)
        self.rest_chroma: Words = np.full(small, WHOLE, words)
        # The colours with the half that the blend rounds by, worked out once they have changed.
        self._rounded: tuple[Words, Words, Words] = (
            np.empty(luma, words), np.empty(small, words), np.empty(small, words)
        )  # fmt: skip
        self._opaque: Words | None = None
        self._stale = True
        self._luma_work: Words = np.empty(luma, words)
        self._chroma_work: Words = np.empty(small, words)

    @classmethod
    def of(cls, picture: Picture, width_px: int, height_px: int) -> Layer:
        """A layer for a picture, with nothing on it."""
        return cls(width_px, height_px, chroma=picture.chroma, depth=picture.depth)

    @property
    def width_px(self) -> int:
        """Width of the layer."""
        return int(self.y.shape[1])

    @property
    def height_px(self) -> int:
        """Height of the layer."""
        return int(self.y.shape[0])

    def copy(self) -> Layer:
        """Another layer that shows the same."""
        twin = Layer(self.width_px, self.height_px, chroma=self.chroma, depth=self._depth)
        twin.become(self)
        return twin

    def become(self, other: Layer, left: int = 0, stop: int | None = None) -> None:
        """Take over what another layer of the same size shows, in its columns from an even
        `left` up to `stop`."""
        stop = self.width_px if stop is None else stop
        self._stale = True
        columns = self.chroma[0]
        luma, chroma = np.s_[:, left:stop], np.s_[:, left // columns : -(-stop // columns)]
        self.y[luma] = other.y[luma]
        self.rest[luma] = other.rest[luma]
        self.u[chroma] = other.u[chroma]
        self.v[chroma] = other.v[chroma]
        self.rest_chroma[chroma] = other.rest_chroma[chroma]

    def cover(self, mask: Mask, colour: Yuv, opacity: float = 1.0) -> None:
        """Lay a mask over the layer in one colour; what stands outside the layer is cut off.

        ::

            m = mask, 0 to 256
            colour' = colour · (256 - m) / 256 + new · m      rest' = rest · (256 - m) / 256
        """
        window = self._window(mask)
        if window is None:
            return
        self._stale = True
        left, top, alpha = window
        # 255 must become 256 for a full cover to leave nothing of what was below.
        cover: NDArray[np.uint32] = _covers(opacity)[alpha]
        height, width = cover.shape
        rows, columns = slice(top, top + height), slice(left, left + width)
        _over(self.y[rows, columns], cover, colour.y)
        _over_rest(self.rest[rows, columns], cover)
        mean = _shared(cover, self.chroma)
        across, down = self.chroma
        rows = slice(top // down, (top + height) // down)
        columns = slice(left // across, (left + width) // across)
        _over(self.u[rows, columns], mean, colour.u)
        _over(self.v[rows, columns], mean, colour.v)
        _over_rest(self.rest_chroma[rows, columns], mean)

    def _window(self, mask: Mask) -> tuple[int, int, Bytes] | None:
        """The part of a mask on the layer, padded to even edges."""
        left, top, width, height = mask.box
        x0, y0 = max(left, 0), max(top, 0)
        x1, y1 = min(left + width, self.width_px), min(top + height, self.height_px)
        if x1 <= x0 or y1 <= y0:
            return None
        inside = mask.alpha[y0 - top : y1 - top, x0 - left : x1 - left]
        before, after = (y0 % 2, y1 % 2), (x0 % 2, x1 % 2)
        if any(before) or any(after):
            # As np.pad does it, which takes three times as long.
            high, wide = inside.shape
            padded = np.zeros((high + sum(before), wide + sum(after)), np.uint8)
            padded[before[0] : before[0] + high, after[0] : after[0] + wide] = inside
            inside = padded
        return x0 - after[0], y0 - before[0], inside

    def blend(self, planes: Planes, left: int, top: int) -> None:
        """Blend the layer into the planes of a frame, in place, at an even position.

        ::

            out = (picture · rest + colour + 128) >> 8

        A fourth plane, of coverage, is blended as if the layer's colour there were full
        coverage; over a picture that was black and empty, what comes out is premultiplied.
        """
        height, width = self.y.shape
        across, down = self.chroma
        luma = np.s_[top : top + height, left : left + width]
        chroma = np.s_[
            top // down : (top + height) // down,
            left // across : (left + width) // across,
        ]
        if self._stale:
            for rounded, colour in zip(self._rounded, (self.y, self.u, self.v), strict=True):
                np.add(colour, WHOLE // 2, out=rounded)
            self._opaque = None
            self._stale = False
        y, u, v = planes[:3]
        lighter, bluer, redder = self._rounded
        _blend(y[luma], self.rest, lighter, self._luma_work)
        _blend(u[chroma], self.rest_chroma, bluer, self._chroma_work)
        _blend(v[chroma], self.rest_chroma, redder, self._chroma_work)
        if len(planes) == 4:
            if self._opaque is None:
                top_code = 2**self._depth - 1
                self._opaque = (WHOLE - self.rest) * top_code + WHOLE // 2
            _blend(planes[3][luma], self.rest, self._opaque, self._luma_work)


@lru_cache(maxsize=64)
def _covers(opacity: float) -> NDArray[np.uint32]:
    """The coverage of each of a mask's 256 codes at an opacity."""
    covers: NDArray[np.uint32] = np.rint(_ALPHAS * (WHOLE / 255 * opacity)).astype(np.uint32)
    return covers


def _shared(cover: NDArray[np.uint32], chroma: tuple[int, int]) -> NDArray[np.uint32]:
    """The mean coverage of the pixels that share a chroma sample, rounded half up."""
    across, down = chroma
    total = cover
    if down == 2:
        total = total[0::2] + total[1::2]
    if across == 2:
        total = total[:, 0::2] + total[:, 1::2]
    of = across * down
    return total if of == 1 else (total + np.uint32(of // 2)) // np.uint32(of)


def _over(plane: Words, cover: NDArray[np.uint32], code: int) -> None:
    kept = (plane * (WHOLE - cover) + WHOLE // 2) >> 8
    plane[...] = kept + cover * code


def _over_rest(rest: Words, cover: NDArray[np.uint32]) -> None:
    rest[...] = (rest * (WHOLE - cover) + WHOLE // 2) >> 8


def _blend(picture: Codes, rest: Words, rounded: Words, work: Words) -> None:
    # Of 8 bits the largest sum is 255 · 256 + 128 = 65408, which a 16-bit word holds.
    np.multiply(picture, rest, out=work)
    np.add(work, rounded, out=work)
    np.right_shift(work, 8, out=work)
    picture[...] = work
