"""A large picture that grows layer by layer, for what is drawn once and shown on every frame."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from demo_media.scene.arrays import Floats, Picture, picture
from demo_media.scene.camera import Camera

if TYPE_CHECKING:
    from numpy.typing import NDArray

TOP_SHARE = 0.48
"""Share of the picture's height above which there is no deck."""

FINER = 3
"""How much larger the deck is drawn than shown; scaling it down smooths its edges."""


class Easel:
    """A large picture that grows layer by layer: colour and cover, both in floats."""

    def __init__(self, camera: Camera) -> None:
        self.camera = Camera(width_px=camera.width_px * FINER, height_px=camera.height_px * FINER)
        self.top = round(self.camera.height_px * TOP_SHARE / FINER) * FINER
        shape = (self.camera.height_px - self.top, self.camera.width_px)
        self.colour = np.zeros((*shape, 3), np.float32)
        self.cover = np.zeros(shape, np.float32)

    def seen(self, ahead: Floats, right: Floats, up: Floats) -> Floats:
        """Points of the boat on the picture: column, row, distance."""
        points = self.camera.of_boat(ahead, right, up)
        points[:, 1] -= self.top
        return points

    def place(self, ahead: Floats, right: Floats, up: Floats) -> NDArray[np.int32]:
        """Points of the boat as corners with four binary places."""
        points = self.seen(ahead, right, up)[:, :2]
        return np.round(np.clip(points, -2e4, 2e4) * 16).astype(np.int32)

    def mask(self, *outlines: NDArray[np.int32]) -> Picture:
        """Cover of a filled shape."""
        mask = np.zeros(self.cover.shape, np.uint8)
        for points in outlines:
            cv2.fillPoly(mask, [points], 255, cv2.LINE_AA, 4)
        return (mask / np.float32(255)).astype(np.float32)

    def stroke(self, points: Floats, width_m: float) -> Picture:
        """Cover of a round bar along points (column, row, distance), thinner further off."""
        mask = np.zeros(self.cover.shape, np.uint8)
        corners = np.round(np.clip(points[:, :2], -2e4, 2e4) * 16).astype(np.int32)
        for i in range(len(points) - 1):
            depth = float(points[i : i + 2, 2].mean())
            thick = max(1, round(self.camera.focal_px * width_m / depth))
            cv2.line(mask, corners[i].tolist(), corners[i + 1].tolist(), 255, thick, cv2.LINE_AA, 4)
        return (mask / np.float32(255)).astype(np.float32)

    def paint(self, mask: Picture, colour: Picture | tuple[float, float, float]) -> None:
        """Lay a colour over the picture where a mask says so."""
        box = _extent(mask)
        tint = np.asarray(colour, np.float32)
        tint = tint[box] if tint.ndim == 3 else tint
        part = self.colour[box]
        part += (tint - part) * mask[box][..., None]
        self.cover[box] += (1 - self.cover[box]) * mask[box]

    def shade(self, mask: Picture, share: float) -> None:
        """Darken what is there."""
        box = _extent(mask)
        self.colour[box] *= 1 - share * mask[box][..., None]


def _extent(mask: Picture) -> tuple[slice, slice]:
    """The rows and columns in which a mask covers anything."""
    left, top, width, height = cv2.boundingRect((mask > 0).astype(np.uint8))
    return slice(top, top + height), slice(left, left + width)


def softened(mask: Picture, sigma_px: float) -> Picture:
    """A mask with soft edges."""
    return picture(cv2.GaussianBlur(mask, (0, 0), sigma_px))
