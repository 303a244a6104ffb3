"""Shapes as masks: polygons, strokes, sectors and hatching, with smooth edges.

Everything is drawn `FINE` times larger and averaged down; a slanting edge lies up to a fifth
of a pixel outside of where geometry has it. Coordinates are pixels with the
origin at the top left corner of the top left pixel, so that a rectangle from 2 to 5 covers
three whole pixels.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from overlay.graphics.layer import Mask

Points = NDArray[np.float64] | Sequence[tuple[float, float]]

FINE = 4
_SHIFT = 6


def rectangle(left: float, top: float, width: float, height: float) -> Mask:
    """A rectangle; whole numbers give hard edges."""
    x0, y0 = math.floor(left), math.floor(top)
    x1, y1 = math.ceil(left + width), math.ceil(top + height)
    if (x0, y0, x1, y1) == (left, top, left + width, top + height):
        return Mask(left=x0, top=y0, alpha=_full(y1 - y0, x1 - x0))
    across = _shares(x0, x1, left, left + width)
    down = _shares(y0, y1, top, top + height)
    alpha = np.rint(255 * np.outer(down, across)).astype(np.uint8)
    return Mask(left=x0, top=y0, alpha=alpha)


@lru_cache(maxsize=512)
def _full(height_px: int, width_px: int) -> NDArray[np.uint8]:
    """A mask that covers all of its pixels; of the few sizes that are drawn again and again."""
    alpha = np.full((max(height_px, 0), max(width_px, 0)), 255, np.uint8)
    alpha.setflags(write=False)
    return alpha


def _shares(first: int, stop: int, low: float, high: float) -> NDArray[np.float64]:
    """How much of each pixel lies between two edges."""
    edges = np.arange(first, stop + 1, dtype=np.float64)
    share: NDArray[np.float64] = np.minimum(edges[1:], high) - np.maximum(edges[:-1], low)
    return np.clip(share, 0.0, 1.0)


def polygon(points: Points) -> Mask:
    """A filled polygon, given by its corners in order."""
    import cv2

    corners = np.asarray(points, dtype=np.float64)
    low = np.floor(corners.min(axis=0)).astype(int) - 1
    high = np.ceil(corners.max(axis=0)).astype(int) + 1
    width, height = (int(size) for size in high - low)
    # OpenCV's pixel centres lie on whole numbers, ours half a pixel further.
    fine = (corners - low) * FINE - 0.5
    canvas = np.zeros((height * FINE, width * FINE), np.uint8)
    fixed = np.rint(fine * (1 << _SHIFT)).astype(np.int32)
    cv2.fillPoly(canvas, [fixed], 255, lineType=cv2.LINE_8, shift=_SHIFT)
    alpha = cv2.resize(canvas, (width, height), interpolation=cv2.INTER_AREA)
    return Mask(left=int(low[0]), top=int(low[1]), alpha=np.asarray(alpha, np.uint8))


def stroke(start: tuple[float, float], end: tuple[float, float], width_px: float) -> Mask:
    """A straight line of a given width with square ends."""
    along = np.subtract(end, start)
    length = float(np.hypot(*along)) or 1.0
    across = np.array([-along[1], along[0]]) / length * width_px / 2
    a, b = np.asarray(start, dtype=np.float64), np.asarray(end, dtype=np.float64)
    return polygon(np.array([a + across, b + across, b - across, a - across]))


def sector(
    centre: tuple[float, float], radii_px: tuple[float, float], angles_rad: tuple[float, float]
) -> Mask:
    """A piece of a ring between two radii and two angles (as `on_circle` counts them)."""
    inner, outer = radii_px
    first, last = angles_rad
    count = max(3, math.ceil(abs(last - first) * outer / 2))
    angles = np.linspace(first, last, count)
    rim = [on_circle(centre, outer, float(angle)) for angle in angles]
    back = [on_circle(centre, inner, float(angle)) for angle in angles[::-1]]
    return polygon(rim + back)


def on_circle(
    centre: tuple[float, float], radius_px: float, angle_rad: float
) -> tuple[float, float]:
    """A point on a circle; angles are clockwise from straight up."""
    return (
        centre[0] + radius_px * math.sin(angle_rad),
        centre[1] - radius_px * math.cos(angle_rad),
    )


def hatched(mask: Mask, pitch_px: float, line_px: float) -> Mask:
    """A mask cut down to slanting lines, as an area on a chart is hatched."""
    left, top, width, height = mask.box
    x = left + np.arange(width)[None, :] + 0.5
    y = top + np.arange(height)[:, None] + 0.5
    across = np.mod((x + y) / math.sqrt(2), pitch_px)
    lines = np.clip(line_px / 2 + 0.5 - np.abs(across - pitch_px / 2), 0.0, 1.0)
    alpha = np.rint(mask.alpha * lines).astype(np.uint8)
    return Mask(left=left, top=top, alpha=alpha)
