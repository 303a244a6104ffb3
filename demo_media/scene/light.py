"""How the sea takes the light: colours by slope and angle, and where the sun glitters."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from demo_media.scene.arrays import Picture
from demo_media.scene.camera import Camera
from demo_media.scene.sky import SUN_HEIGHT_DEG, clear_sky

if TYPE_CHECKING:
    from numpy.typing import NDArray

SLOPES, SLOPE_RANGE = 512, 0.75
"""Steps of the colour table, and the largest slope in it."""

DEEP_BGR = (66.0, 50.0, 20.0)
"""Light that comes back up out of the water."""


def colour_table(tan_down: Picture, lost: Picture) -> NDArray[np.uint32]:
    """Colour by row and slope, packed as 0xAARRGGBB [shape=(rows, SLOPES)]."""
    fine = (np.arange(SLOPES) - SLOPES / 2 + 0.5) / (SLOPES / 2) * SLOPE_RANGE
    table = np.empty((tan_down.size, SLOPES, 3))
    nodes = np.linspace(-2.2, 2.2, 9)
    weights = np.exp(-0.5 * nodes**2)
    weights /= weights.sum()
    for row, tan in enumerate(tan_down.tolist()):
        down = math.atan(tan)
        blurred = np.zeros((SLOPES, 3))
        for node, weight in zip(nodes.tolist(), weights.tolist(), strict=True):
            blurred += weight * _facet(down, fine + node * float(lost[row]))
        haze = math.exp(-down / 0.006)
        table[row] = blurred + (np.array([205.0, 208.0, 212.0]) - blurred) * 0.8 * haze
    levels = np.clip(table, 0, 255).astype(np.uint32)
    return np.asarray(levels[..., 0] | levels[..., 1] << 8 | levels[..., 2] << 16, dtype=np.uint32)


def _facet(down: float, slope: NDArray[np.float64]) -> NDArray[np.float64]:
    """Colour of facets seen from an angle, by their slope along the view."""
    tilt = np.arctan(slope)
    cosine = np.clip(np.sin(down + tilt), 0.0, 1.0)
    fresnel = 0.02 + 0.98 * (1 - cosine) ** 5
    up = np.degrees(np.abs(down + 2 * tilt))
    sky = clear_sky(np.minimum(up, 180 - up)) * 0.93
    lift = 1 + 0.55 * np.clip(slope / 0.35, -1, 1)
    deep = np.array(DEEP_BGR) * lift[:, None]
    return np.asarray(sky * fresnel[:, None] + deep * (1 - fresnel[:, None]))


def sun_slopes(
    camera: Camera, tan_down: Picture, across: Picture, sun_deg: float
) -> tuple[tuple[int, int], tuple[Picture, Picture]]:
    """The slopes that throw the sun at the camera, over the columns that can show any.

    There are none with the sun behind the camera.
    """
    azimuth, height = math.radians(sun_deg), math.radians(SUN_HEIGHT_DEG)
    if abs(sun_deg) >= 90:
        none = np.zeros((tan_down.size, 0), np.float32)
        return (0, 0), (none, none)
    centre = camera.canvas_width / 2 + camera.focal_px * math.tan(azimuth)
    left = max(0, round(centre - camera.focal_px * 0.62))
    right = min(camera.canvas_width, round(centre + camera.focal_px * 0.55))
    x, y = np.meshgrid(across[left:right].astype(np.float64), tan_down.astype(np.float64))
    length = np.sqrt(1 + x * x + y * y)
    ahead = -1 / length + math.cos(height) * math.cos(azimuth)
    right_ = -x / length + math.cos(height) * math.sin(azimuth)
    up = y / length + math.sin(height)
    along = np.ascontiguousarray((-ahead / up).astype(np.float32))
    side = np.ascontiguousarray((-right_ / up).astype(np.float32))
    return (left, right), (along, side)
