"""Where instruments stand: the safe area of a picture, anchors in it, and what stands on what."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from overlay.graphics.faceplate import InstrumentSpec
from overlay.graphics.picture import Picture

Box = tuple[int, int, int, int]

WIDE_MARGINS = (0.05, 0.05, 0.05, 0.05)
"""Left, top, right and bottom, in shares of width and height: the graphics-safe area of EBU
R95 (2017) and ITU-R BT.1848-1 (2015)."""

UPRIGHT_MARGINS = (0.05, 0.12, 0.14, 0.22)
"""Likewise for an upright picture, where phones lay their own things over the edges (common
practice, no published source)."""

STACK_GAP = 0.008
"""Between an instrument and the one that it stands on, as a share of the short side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """A rectangle of the picture by its edges, all even."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def width(self) -> int:
        """From edge to edge."""
        return self.right - self.left

    def holds(self, box: Box) -> bool:
        """Whether a box lies wholly inside."""
        left, top, width, height = box
        return (
            left >= self.left
            and top >= self.top
            and left + width <= self.right
            and top + height <= self.bottom
        )


def safe_area(picture: Picture) -> Area:
    """What no edge of a screen and no phone's own signs cover, rounded inwards to even."""
    left, top, right, bottom = UPRIGHT_MARGINS if picture.upright else WIDE_MARGINS
    width, height = picture.width_px, picture.height_px
    return Area(
        left=_up(left * width),
        top=_up(top * height),
        right=_down((1 - right) * width),
        bottom=_down((1 - bottom) * height),
    )


def _up(edge: float) -> int:
    return 2 * -int(-(edge - 1e-6) // 2)


def _down(edge: float) -> int:
    return 2 * int((edge + 1e-6) // 2)


def place(
    picture: Picture, specs: Sequence[InstrumentSpec], sizes: Mapping[str, tuple[int, int]]
) -> dict[str, Box]:
    """A box for each instrument that has a size.

    An instrument that stands on one without a size stands on whatever that one stood on.
    """
    safe = safe_area(picture)
    gap = picture.even(STACK_GAP)
    lower = {spec.name: spec.above for spec in specs}
    boxes: dict[str, Box] = {}
    for spec in specs:
        if spec.name not in sizes:
            continue
        width, height = sizes[spec.name]
        below = spec.above
        while below and below not in boxes:
            below = lower[below]
        left = _along(spec.anchor, ("left", "right"), safe.left, safe.right, width)
        if below:
            top = boxes[below][1] - gap - height
        else:
            top = _along(spec.anchor, ("top", "bottom"), safe.top, safe.bottom, height)
        left += _even(spec.shift[0] * picture.width_px)
        top += _even(spec.shift[1] * picture.height_px)
        boxes[spec.name] = (left, top, width, height)
    return boxes


def _along(anchor: str, ends: tuple[str, str], low: int, high: int, size: int) -> int:
    words = anchor.split()
    if ends[0] in words:
        return low
    if ends[1] in words:
        return high - size
    return low + _even((high - low - size) / 2)


def _even(length: float) -> int:
    return 2 * round(length / 2)


def overlap(one: Box, other: Box) -> bool:
    """Whether two boxes share a pixel."""
    return (
        one[0] < other[0] + other[2]
        and other[0] < one[0] + one[2]
        and one[1] < other[1] + other[3]
        and other[1] < one[1] + one[3]
    )
