"""Where a layout lies on a picture, and pieces of the picture brought onto the layout's pixels.

Whatever was done to a clip's size, letters are held against pixels of the layout: a piece of a
film that shows it smaller or larger is resampled first. Only luma is read for letters.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Plane = NDArray[np.unsignedinteger[Any]]
Cutter = Callable[[Plane], Plane | Floats]

WHOLE_PX = 1e-3
"""A place that is off by less than so many pixels is taken as whole (own choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """From the pixels of a layout to those of a film's upright picture.

    ::

        x_film = scale_x · x_layout + left_px      y_film = scale_y · y_layout + top_px

    with x and y counted from the left and upper edge of the picture, so that the middle of the
    first pixel lies at 0.5.
    """

    scale_x: float = 1.0
    scale_y: float = 1.0
    left_px: float = 0.0
    top_px: float = 0.0

    @property
    def scale(self) -> tuple[float, float]:
        """Pixels of the film in one of the layout, across and down."""
        return self.scale_x, self.scale_y

    @property
    def whole(self) -> bool:
        """Whether pixels of the layout are pixels of the film."""
        return (
            abs(self.scale_x - 1) < 1e-6
            and abs(self.scale_y - 1) < 1e-6
            and abs(self.left_px - round(self.left_px)) < WHOLE_PX
            and abs(self.top_px - round(self.top_px)) < WHOLE_PX
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A rectangle of the layout's pixels by its edges."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.bottom - self.top, self.right - self.left

    def cutter(self, place: Placement, shape: tuple[int, ...]) -> Cutter | None:
        """What cuts this window out of pictures of some rows and columns, as it is or resampled;
        None where it does not lie on them. What is outside by half a pixel is filled from the edge.
        """
        rows, columns = shape
        if not (
            place.scale_x * self.left + place.left_px >= -0.5
            and place.scale_y * self.top + place.top_px >= -0.5
            and place.scale_x * self.right + place.left_px <= columns + 0.5
            and place.scale_y * self.bottom + place.top_px <= rows + 0.5
        ):
            return None
        if place.whole:
            left, top = round(place.left_px) + self.left, round(place.top_px) + self.top
            high, wide = self.shape
            part = slice(top, top + high), slice(left, left + wide)
            return lambda plane: plane[part]
        return partial(_resampled, window=self, place=place)


def _resampled(plane: Plane, window: Window, place: Placement) -> Floats:
    import cv2

    rows, columns = window.shape
    (sx, sy), room = place.scale, 4
    x0 = sx * window.left + place.left_px
    y0 = sy * window.top + place.top_px
    near_x, near_y = int(np.floor(x0)) - room, int(np.floor(y0)) - room
    far_x = int(np.ceil(sx * window.right + place.left_px)) + room
    far_y = int(np.ceil(sy * window.bottom + place.top_px)) + room
    at_y = np.clip(np.arange(near_y, far_y), 0, plane.shape[0] - 1)
    at_x = np.clip(np.arange(near_x, far_x), 0, plane.shape[1] - 1)
    source = plane[np.ix_(at_y, at_x)].astype(np.float32)
    if max(sx, sy) > 1.2:
        # Pixels of the layout are means of several of the film's.
        blurred = cv2.GaussianBlur(source, (0, 0), sigmaX=0.4 * sx, sigmaY=0.4 * sy)
        source = np.asarray(blurred, dtype=np.float32)
    # OpenCV counts from the middle of the first pixel.
    matrix = np.array(
        [[sx, 0, x0 - near_x + 0.5 * sx - 0.5], [0, sy, y0 - near_y + 0.5 * sy - 0.5]]
    )
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    out = cv2.warpAffine(source, matrix, (columns, rows), flags=flags, borderMode=1)
    return np.asarray(out, dtype=np.float32)
