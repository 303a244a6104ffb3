"""A clip in another shape than its footage: which part of the picture it keeps.

The part is cut out, never stretched or scaled, so that every pixel that is kept is the camera's.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from overlay.errors import WishError
from overlay.render.upright import Upright, upright_of
from sync.media import Footage
from sync.media.planes import planes_of

if TYPE_CHECKING:
    from av import VideoFrame

Shape = Literal["wide", "upright", "square"]

SHAPES: Mapping[Shape, Fraction] = MappingProxyType(
    {"wide": Fraction(16, 9), "upright": Fraction(9, 16), "square": Fraction(1)}
)
"""Width to height of a picture as it is shown."""

SAME = Fraction(1, 100)
"""A picture has a shape already where its ratio of width to height is off by no more: coded
pictures of 1920×1088 and 1366×768 are wide."""

LEAST_PX = 320
"""The least width and height of what is kept; on less, no instrument is legible."""

MIDDLE = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Crop:
    """The part of a coded picture that is kept.

    Parameters
    ----------
    left_px, top_px, width_px, height_px
        All of them even, so that no chroma sample is cut in two.
    """

    left_px: int
    top_px: int
    width_px: int
    height_px: int

    def upright_box(self, footage: Footage) -> tuple[int, int, int, int]:
        """Left, top, width and height of the part on the footage's upright picture."""
        way = upright_of(footage)
        before = [
            whole - start - kept if mirrored else start
            for whole, start, kept, mirrored in zip(
                (footage.width, footage.height),
                (self.left_px, self.top_px),
                (self.width_px, self.height_px),
                _mirrored(way),
                strict=True,
            )
        ]
        return (*way.pair(before[0], before[1]), *way.pair(self.width_px, self.height_px))


def crop_of(footage: Footage, shape: Shape | None, look: float | None = None) -> Crop | None:
    """The greatest part of a picture that has a shape; None where the picture has it already.

    One side is kept whole but for an odd last row or column; the other is the even number of
    pixels nearest to what the shape asks for, their own shape counted in.

    Parameters
    ----------
    shape
        Of the upright picture as it is shown; None for that of the footage.
    look
        Where across what is cut the part lies: 0 at the left or the top edge of the upright
        picture, 1 at the other; None for the middle.

    Raises
    ------
    WishError
        Where `look` is not from 0 to 1, there is no such shape, or too little would be left.
    RenderError
        Where the picture is turned by an odd angle.
    """
    if look is not None and not 0 <= look <= 1:
        raise WishError(
            f"a look of {look:g} lies outside of the picture",
            advice="name a number from 0, the left or the top edge, to 1, the right or the bottom",
        )
    if shape is None:
        return None
    if shape not in SHAPES:
        raise WishError(f"there is no shape {shape!r}", allowed=tuple(SHAPES))
    share, way = MIDDLE if look is None else look, upright_of(footage)
    ratio = (1 / SHAPES[shape] if way.turned else SHAPES[shape]) / footage.sample_aspect
    has = Fraction(footage.width, footage.height)
    if abs(has / ratio - 1) <= SAME:
        return None
    width, height = _even(footage.width), _even(footage.height)
    if has > ratio:
        width = min(width, 2 * round(height * ratio / 2))
    else:
        height = min(height, 2 * round(width / ratio / 2))
    _refuse_small(footage, shape, way.pair(width, height))
    left, top = (
        2 * round((1 - share if mirrored else share) * _even(whole - kept) / 2)
        for whole, kept, mirrored in zip(
            (footage.width, footage.height), (width, height), _mirrored(way), strict=True
        )
    )
    return Crop(left_px=left, top_px=top, width_px=width, height_px=height)


def _mirrored(way: Upright) -> tuple[int, int]:
    """Whether what lies first across and down the coded picture is last on the upright one."""
    return way.pair(way.mirrored_x, way.mirrored_y)


def _even(size_px: int) -> int:
    return size_px - size_px % 2


def _refuse_small(footage: Footage, shape: str, size_px: tuple[int, int]) -> None:
    if min(size_px) < LEAST_PX:
        whole = upright_of(footage).pair(footage.width, footage.height)
        raise WishError(
            f"{shape} leaves {size_px[0]}×{size_px[1]} of the picture's {whole[0]}×{whole[1]}"
            f" pixels, and a clip needs {LEAST_PX} each way",
            path=footage.path,
            advice="leave the shape out, or use footage with more pixels",
        )


def cropped(picture: VideoFrame, crop: Crop) -> VideoFrame:
    """A part of a picture in memory of its own, with the picture's colour tags."""
    from av import VideoFrame

    part = VideoFrame(crop.width_px, crop.height_px, picture.format.name)
    for plane, source in zip(planes_of(part), planes_of(picture), strict=True):
        down, across = -(-picture.height // source.shape[0]), -(-picture.width // source.shape[1])
        top, left = crop.top_px // down, crop.left_px // across
        plane[...] = source[top : top + plane.shape[0], left : left + plane.shape[1]]
    part.pts, part.time_base = picture.pts, picture.time_base
    part.colorspace, part.color_range = picture.colorspace, picture.color_range
    part.color_primaries, part.color_trc = picture.color_primaries, picture.color_trc
    return part


def display_matrix_of(footage: Footage, crop: Crop | None) -> tuple[int, ...] | None:
    """The nine numbers by which a part of a picture is to be turned and mirrored.

    Those of the footage; but where they move a mirrored picture back to where it began, as far
    as the part is large (ISO/IEC 14496-12, 6.2.2)::

        x' = a x + c y + t_x      y' = b x + d y + t_y
    """
    matrix = footage.display_matrix
    if matrix is None or crop is None:
        return matrix
    way = upright_of(footage)
    a, b, u, c, d, v, *moved, w = matrix
    lost = (
        (footage.width - crop.width_px) * footage.sample_aspect,
        footage.height - crop.height_px,
    )
    lost_x, lost_y = lost[::-1] if way.turned else lost
    if way.mirrored_x and moved[0]:
        moved[0] -= round(lost_x * max(abs(a), abs(c)))
    if way.mirrored_y and moved[1]:
        moved[1] -= round(lost_y * max(abs(b), abs(d)))
    return (a, b, u, c, d, v, *moved, w)
