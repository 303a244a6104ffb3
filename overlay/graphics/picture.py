"""The picture that is drawn on: its size, and how its planes encode colour."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from overlay.graphics.layer import Planes

Rgb = tuple[int, int, int]
"""Red, green and blue as 8-bit R'G'B' codes over the full range."""

LUMA_WEIGHTS: Mapping[str, tuple[float, float, float]] = MappingProxyType(
    {
        # ITU-R BT.709-6, BT.601-7 and BT.2020-2 (non-constant luminance), weights of R', G', B'.
        "bt709": (0.2126, 0.7152, 0.0722),
        "bt601": (0.299, 0.587, 0.114),
        "bt2020": (0.2627, 0.6780, 0.0593),
    }
)
"""The matrices that a picture may have."""


SQUARE = 1.15
"""Up to this ratio of its sides a picture counts as square."""

SHAPES = ("wide", "square", "upright")


@dataclass(frozen=True, slots=True, kw_only=True)
class Yuv:
    """A colour as the codes of one picture: luma and the two colour differences, 8 bit."""

    y: int
    u: int
    v: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """The upright picture that is drawn on, 8 bits deep, its chroma halved both ways.

    Parameters
    ----------
    width_px, height_px
        Size after rotation; odd sizes have chroma planes rounded up.
    matrix
        A key of `LUMA_WEIGHTS`.
    full_range
        Whether codes run from 0 to 255 rather than from 16 to 235 and 240.
    """

    width_px: int
    height_px: int
    matrix: str = "bt709"
    full_range: bool = False

    def __post_init__(self) -> None:
        if self.width_px < 2 or self.height_px < 2:
            raise ValueError(f"a picture of {self.width_px}x{self.height_px} has no room")
        if self.matrix not in LUMA_WEIGHTS:
            raise ValueError(f"{self.matrix!r} is not one of {', '.join(LUMA_WEIGHTS)}")

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
        return -(-self.height_px // 2), -(-self.width_px // 2)

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
            limited: 16 + 219 Y', 128 + 224 C      full: 255 Y', 128 + 255 C

        Source: ITU-R BT.709-6 items 3.2 to 3.5; BT.601-7 and BT.2020-2 likewise.
        """
        red, green, blue = (code / 255 for code in rgb)
        w_red, w_green, w_blue = LUMA_WEIGHTS[self.matrix]
        luma = w_red * red + w_green * green + w_blue * blue
        cb = (blue - luma) / (2 * (1 - w_blue))
        cr = (red - luma) / (2 * (1 - w_red))
        if self.full_range:
            codes = (255 * luma, 128 + 255 * cb, 128 + 255 * cr)
        else:
            codes = (16 + 219 * luma, 128 + 224 * cb, 128 + 224 * cr)
        y, u, v = (min(255, max(0, math.floor(code + 0.5))) for code in codes)
        return Yuv(y=y, u=u, v=v)

    def rgb(self, planes: Planes) -> NDArray[np.uint8]:
        """Planes of this picture as R'G'B' codes over the full range [shape=(height, width, 3)],
        each chroma sample standing for its block of two by two.

        The inverse of `yuv`, to look at what was drawn; no frame of a clip goes this way.
        """
        y, u, v = (plane.astype(np.float64) for plane in planes)
        luma, low, chroma = (255.0, 0.0, 255.0) if self.full_range else (219.0, 16.0, 224.0)
        shape = (self.height_px, self.width_px)
        cb, cr = (
            np.repeat(np.repeat((plane - 128) / chroma, 2, 0), 2, 1)[: shape[0], : shape[1]]
            for plane in (u, v)
        )
        w_red, w_green, w_blue = LUMA_WEIGHTS[self.matrix]
        light = (y - low) / luma
        red, blue = light + 2 * (1 - w_red) * cr, light + 2 * (1 - w_blue) * cb
        green = (light - w_red * red - w_blue * blue) / w_green
        codes = np.rint(255 * np.stack([red, green, blue], axis=-1))
        return np.clip(codes, 0, 255).astype(np.uint8)
