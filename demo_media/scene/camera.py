"""The camera, at the helm if nothing else is said: where things lie on the picture.

Two frames of axes, each right, down, ahead: the *level* one keeps the horizon level and
looks along the boat's heading; the *boat's* one pitches and rolls. The far world is drawn
on a level canvas and carried onto the picture by the homography of the boat's attitude,
which is exact for everything that the camera turns about and does not travel past.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from demo_media.scene.arrays import Floats

MOUNT_DOWN_DEG = 7.6
"""How far the camera looks down from the boat's own level."""

FOCAL_PER_WIDTH = 0.66
"""Focal length over the picture's width: a lens that sees 74 degrees across."""

HEIGHT_M = 2.0
"""Height of the camera above the water, at rest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """Size of the picture, and of the level canvas behind it.

    `above_px` rows of the canvas lie above the horizon, `below_px` below; how far the canvas
    reaches is told in focal lengths, up, down and across as a share of the picture.
    """

    width_px: int
    height_px: int
    focal_per_width: float = FOCAL_PER_WIDTH
    mount_down_deg: float = MOUNT_DOWN_DEG
    height_m: float = HEIGHT_M
    above_per_focal: float = 0.52
    below_per_focal: float = 0.66

    @property
    def focal_px(self) -> float:
        """Focal length in pixels."""
        return self.focal_per_width * self.width_px

    @property
    def canvas_width(self) -> int:
        """Columns of the level canvas, a multiple of two."""
        return 2 * round(self.width_px * 0.585)

    @property
    def above_px(self) -> int:
        """Rows of the level canvas above the horizon."""
        return round(self.focal_px * self.above_per_focal)

    @property
    def below_px(self) -> int:
        """Rows of the level canvas below the horizon."""
        return round(self.focal_px * self.below_per_focal)

    def homography(self, pitch_rad: float, roll_rad: float, shake_px: Floats) -> Floats:
        """Map from the level canvas to the picture [shape=(3, 3)].

        Parameters
        ----------
        pitch_rad, roll_rad
            Of the boat; bow up, starboard down.
        shake_px : [shape=(2,), px]
            A small shift of the picture to the right and down.
        """
        turn = (
            _pitched(-math.radians(self.mount_down_deg)) @ _rolled(roll_rad) @ _pitched(pitch_rad)
        )
        canvas = np.array(
            [
                [1 / self.focal_px, 0, -self.canvas_width / 2 / self.focal_px],
                [0, 1 / self.focal_px, -self.above_px / self.focal_px],
                [0, 0, 1],
            ]
        )
        lens = self._lens()
        lens[:2, 2] += shake_px
        return np.asarray(lens @ turn @ canvas)

    def of_boat(self, ahead_m: Floats, right_m: Floats, up_m: Floats) -> Floats:
        """Points of the boat on the picture.

        Parameters
        ----------
        ahead_m, right_m, up_m : [shape=(n,)]
            From the camera's foot on the water: the camera itself is `height_m` above it.

        Returns
        -------
        points : [shape=(n, 3)]
            Column, row, and distance along the optical axis in metres.
        """
        boat = np.stack(
            np.broadcast_arrays(
                np.asarray(right_m, dtype=np.float64),
                self.height_m - np.asarray(up_m, dtype=np.float64),
                np.asarray(ahead_m, dtype=np.float64),
            )
        )
        seen = self._lens() @ _pitched(-math.radians(self.mount_down_deg)) @ boat
        depth = np.maximum(seen[2], 0.05)
        return np.stack([seen[0] / depth, seen[1] / depth, depth], axis=1)

    def _lens(self) -> Floats:
        return np.array(
            [
                [self.focal_px, 0, self.width_px / 2],
                [0, self.focal_px, self.height_px / 2],
                [0, 0, 1.0],
            ]
        )


def _pitched(angle: float) -> Floats:
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[1, 0, 0], [0, c, s], [0, -s, c]])


def _rolled(angle: float) -> Floats:
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
