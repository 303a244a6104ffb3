"""The picture that is drawn on: its size, and how its planes encode colour."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from overlay.graphics.light import Rgb, Transfer, signal_of_rgb

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from overlay.graphics.layer import Planes

LUMA_WEIGHTS: Mapping[str, tuple[float, float, float]] = MappingProxyType(
    {
        # ITU-R BT.709-6, BT.601-7 and BT.2020-2 (non-constant luminance), weights of R', G', B'.
        "bt709": (0.2126, 0.7152, 0.0722),
        "bt601": (0.299, 0.587, 0.114),
        "bt2020": (0.2627, 0.6780, 0.0593),
    }
)
"""The matrices that a picture may have."""

RGB = "rgb"
"""The matrix of a picture whose planes are R', G' and B' themselves, as PNG files hold them."""

SQUARE = 1.15
"""Up to this ratio of its sides a picture counts as square."""

SHAPES = ("wide", "square", "upright")


@dataclass(frozen=True, slots=True, kw_only=True)
class Yuv:
    """A colour as the codes of one picture: luma and the two colour differences."""

    y: int
    u: int
    v: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """The upright picture that is drawn on, and how its codes stand for colours.

    Parameters
    ----------
    width_px, height_px
        Size after rotation; where chroma is halved, its planes are rounded up.
    matrix
        A key of `LUMA_WEIGHTS`, or `RGB`.
    full_range
        Whether codes use their whole range rather than, of 256, those from 16 to 235 and 240.
    depth
        Bits of a code, 8 or 10.
    chroma
        Columns and rows of pixels that share a chroma sample: (2, 2) is 4:2:0, (2, 1) is 4:2:2,
        (1, 2) is that on its side, (1, 1) is 4:4:4.
    transfer, primaries
        What the codes mean as light: `sdr`, `hlg` or `pq`, and `bt709`, `p3` or `bt2020`.
    """

    width_px: int
    height_px: int
    matrix: str = "bt709"
    full_range: bool = False
    depth: int = 8
    chroma: tuple[int, int] = (2, 2)
    transfer: Transfer = "sdr"
    primaries: str = "bt709"

    def __post_init__(self) -> None:
        if self.width_px < 2 or self.height_px < 2:
            raise ValueError(f"a picture of {self.width_px}x{self.height_px} has no room")
        if self.matrix not in (*LUMA_WEIGHTS, RGB):
            raise ValueError(f"{self.matrix!r} is not one of {', '.join(LUMA_WEIGHTS)} and {RGB}")
        if self.matrix == RGB and self.chroma != (1, 1):
            raise ValueError("red, green and blue have planes of the picture's own size")
        if self.depth not in (8, 10):
            raise ValueError(f"codes of {self.depth} bits are not drawn in")

    @property
    def short_px(self) -> int:
        """The shorter side, of which all sizes are shares."""
        return min(self.width_px, self.height_px)

    @property
    def upright(self) -> bool:
        """Whether the picture is higher than wide, as phones show it."""
        return self.height_px > self.width_px

    @property
    def shape(self) -> str:
        """`wide`, `square` or `upright`."""
        ratio = self.width_px / self.height_px
        return "wide" if ratio > SQUARE else "upright" if ratio < 1 / SQUARE else "square"

    @property
    def chroma_shape(self) -> tuple[int, int]:
        """Rows and columns of the U and V planes."""
        columns, rows = self.chroma
        return -(-self.height_px // rows), -(-self.width_px // columns)

    @property
    def top_code(self) -> int:
        """The greatest code there is."""
        return int(2**self.depth - 1)

    @property
    def empty(self) -> Yuv:
        """Black, which premultiplied colour is laid over."""
        return self.yuv((0, 0, 0))

    def px(self, share: float) -> int:
        """A share of the short side in whole pixels, at least one."""
        return max(1, round(share * self.short_px))

    def even(self, share: float) -> int:
        """A share of the short side in pixels, rounded up to an even number."""
        return 2 * max(1, math.ceil(share * self.short_px / 2 - 1e-9))

    def yuv(self, rgb: Rgb) -> Yuv:
        """The codes of a colour in this picture.

        ::

            Y' = r R' + g G' + b B'      Cb = (B' - Y') / 2 (1 - b)      Cr = (R' - Y') / 2 (1 - r)
            limited: (16 + 219 Y') 2^(n-8), (128 + 224 C) 2^(n-8)
            full: (2^n - 1) Y', 2^(n-1) + (2^n - 1) C

        Source: ITU-R BT.709-6 items 3.2 to 3.5; BT.601-7 and BT.2020-2 likewise; the full range
        by ITU-T H.273, 8.3.
        """
        red, green, blue = signal_of_rgb(rgb, self.transfer, self.primaries)
        if self.matrix == RGB:
            r, g, b = (self._code(self.top_code * part) for part in (red, green, blue))
            return Yuv(y=r, u=g, v=b)
        w_red, w_green, w_blue = LUMA_WEIGHTS[self.matrix]
        luma = w_red * red + w_green * green + w_blue * blue
        cb = (blue - luma) / (2 * (1 - w_blue))
        cr = (red - luma) / (2 * (1 - w_red))
        black, white, span, middle = self._levels
        y, u, v = (
            self._code(code)
            for code in (black + white * luma, middle + span * cb, middle + span * cr)
        )
        return Yuv(y=y, u=u, v=v)

    @property
    def _levels(self) -> tuple[float, float, float, float]:
        """Code of black, codes from there to white, codes of the whole swing of chroma, code of
        no chroma."""
        if self.full_range:
            return 0.0, self.top_code, self.top_code, 2.0 ** (self.depth - 1)
        scale = 2.0 ** (self.depth - 8)
        return 16 * scale, 219 * scale, 224 * scale, 128 * scale

    def _code(self, value: float) -> int:
        return min(self.top_code, max(0, math.floor(value + 0.5)))

    def rgb(self, planes: Planes) -> NDArray[np.uint8]:
        """Planes of this picture as R'G'B' codes over the full range [shape=(height, width, 3)],
        each chroma sample standing for its whole block; what the codes mean as light is left
        aside.

        The inverse of `yuv`, to look at what was drawn; no frame of a clip goes this way.
        """
        y, u, v = (plane.astype(np.float64) for plane in planes[:3])
        if self.matrix == RGB:
            codes = np.rint(np.stack([y, u, v], axis=-1) * (255 / self.top_code))
            return codes.astype(np.uint8)
        black, white, span, middle = self._levels
        columns, rows = self.chroma
        shape = (self.height_px, self.width_px)
        cb, cr = (
            np.repeat(np.repeat((plane - middle) / span, rows, 0), columns, 1)[
                : shape[0], : shape[1]
            ]
            for plane in (u, v)
        )
        w_red, w_green, w_blue = LUMA_WEIGHTS[self.matrix]
        light = (y - black) / white
        red, blue = light + 2 * (1 - w_red) * cr, light + 2 * (1 - w_blue) * cb
        green = (light - w_red * red - w_blue * blue) / w_green
        codes = np.rint(255 * np.stack([red, green, blue], axis=-1))
        return np.clip(codes, 0, 255).astype(np.uint8)
