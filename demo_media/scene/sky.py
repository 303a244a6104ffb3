"""Sky and far shore: a morning after a clear night, high soft cloud, islands in the haze."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from demo_media.scene.arrays import Floats, Pixels, pixels
from demo_media.scene.camera import Camera
from demo_media.scene.fields import fractal

if TYPE_CHECKING:
    from numpy.typing import NDArray

SUN_AZIMUTH_DEG, SUN_HEIGHT_DEG = 21.0, 24.0
"""Where the sun stands: to the right of the launch's course, and above the horizon."""

_STOPS_DEG = np.array([-1.0, 0.0, 2.0, 5.0, 10.0, 18.0, 30.0, 50.0, 90.0])
_STOPS_BGR = np.array(
    [
        [214, 219, 226], [216, 222, 230], [221, 220, 220], [222, 209, 198], [214, 188, 165],
        [199, 160, 126], [178, 131, 92], [150, 102, 64], [120, 76, 42],
    ],
    dtype=np.float64,
)  # fmt: skip


def clear_sky(height_deg: Floats) -> Floats:
    """Colour of the cloudless sky by height above the horizon [shape=(..., 3), BGR]."""
    return np.stack(
        [np.interp(height_deg, _STOPS_DEG, _STOPS_BGR[:, band]) for band in range(3)], axis=-1
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Sky:
    """Sky and shore, wider than the canvas by a margin on either side for yaw and drift.

    `sky` has the canvas's rows above the horizon; `shore` and `shore_cover` (0 to 1) are a
    strip whose last row stands on the horizon.
    """

    margin_px: int
    sky: Pixels
    shore: Pixels
    shore_cover: NDArray[np.float32]

    def draw(self, canvas: Pixels, camera: Camera, yaw_px: int, drift_px: float) -> None:
        """Draw onto the canvas's rows above the horizon.

        Parameters
        ----------
        yaw_px
            Heading to the right of the course for which the picture was made, on the canvas.
        drift_px
            How far the clouds have moved to the right.
        """
        width = camera.canvas_width
        left = self.margin_px + max(min(yaw_px, self.margin_px // 2), -self.margin_px // 2)
        whole = math.floor(drift_px)
        start = min(max(left - whole - 1, 0), self.sky.shape[1] - width - 1)
        cv2.addWeighted(
            self.sky[:, start + 1 : start + 1 + width],
            1 - (drift_px - whole),
            self.sky[:, start : start + width],
            drift_px - whole,
            0,
            dst=canvas[: camera.above_px],
        )
        rows = self.shore.shape[0]
        band = canvas[camera.above_px - rows : camera.above_px]
        cover = self.shore_cover[:, left : left + width]
        band[:] = cv2.blendLinear(
            np.ascontiguousarray(self.shore[:, left : left + width]), band, cover, 1 - cover
        )


def make_sky(
    camera: Camera, seed: int, sun_deg: float = SUN_AZIMUTH_DEG, margin: float = 0.12
) -> Sky:
    """Paint the sky and the shore for a size of picture.

    Parameters
    ----------
    sun_deg
        Where the sun stands, to the right of the middle.
    margin
        How much wider than the canvas it is on either side, in focal lengths.
    """
    rng = np.random.default_rng([seed, 1])
    margin_px = round(camera.focal_px * margin)
    width = camera.canvas_width + 2 * margin_px
    columns = np.arange(width, dtype=np.float64)
    columns = (columns - width / 2) / camera.focal_px
    rows = np.arange(camera.above_px, dtype=np.float64)
    rows = (camera.above_px - rows - 0.5) / camera.focal_px
    shore, cover = _shore(np.random.default_rng([seed, 5]), camera, width)
    return Sky(
        margin_px=margin_px,
        sky=_sky(rng, columns, rows, sun_deg),
        shore=np.clip(shore, 0, 255).astype(np.uint8),
        shore_cover=cover,
    )


def _sky(rng: np.random.Generator, columns: Floats, rows: Floats, sun_deg: float) -> Pixels:
    across, up = np.meshgrid(columns, rows)
    height = np.degrees(np.arctan2(up, np.hypot(1.0, across)))
    colour = clear_sky(height)
    sun = _nearness(across, up, sun_deg)
    away = 1 - sun
    glow = 0.45 * np.exp(-away / 0.004) + 0.40 * np.exp(-away / 0.02) + 0.30 * np.exp(-away / 0.1)
    warm = np.array([0.80, 0.92, 1.0])
    colour = 255 - (255 - colour) * np.clip(1 - glow[..., None] * warm, 0, 1)
    cover, light = _clouds(rng, across, up, sun)
    colour += (light - colour) * cover[..., None]
    colour += rng.normal(0, 0.5, colour.shape)  # hides the steps of eight bits
    return pixels(np.clip(colour, 0, 255).astype(np.uint8))


def _nearness(across: Floats, up: Floats, sun_deg: float) -> Floats:
    """Cosine of the angle from the sun."""
    azimuth, height = math.radians(sun_deg), math.radians(SUN_HEIGHT_DEG)
    sun = (math.sin(azimuth) * math.cos(height), math.sin(height),
           math.cos(azimuth) * math.cos(height))  # fmt: skip
    return (across * sun[0] + up * sun[1] + sun[2]) / np.sqrt(across**2 + up**2 + 1)


def _clouds(
    rng: np.random.Generator, across: Floats, up: Floats, sun: Floats
) -> tuple[Floats, Floats]:
    """Cover and colour of two decks of cloud, laid out in true perspective."""
    field = fractal(rng, (512, 512), 1.45)
    fine = fractal(rng, (512, 512), 1.05)
    wisps = _on_deck(field, across, up, 150.0, 95.0) + 0.30 * _on_deck(
        fine, across, up, 420.0, 260.0
    )
    wisp_cover = np.clip((wisps - 0.45) / 2.1, 0, 1) ** 1.1 * 0.8
    heaps = _on_deck(fractal(rng, (512, 512), 1.55), across, up, 95.0, 70.0)
    heaps += 0.22 * _on_deck(fine, across, up, 330.0, 250.0)
    heap_cover = np.clip((heaps - 0.85) / 0.7, 0, 1)
    heap_cover = heap_cover * heap_cover * (3 - 2 * heap_cover) * 0.92
    lit = np.clip(0.62 + 0.5 * np.maximum(sun, 0) ** 6, 0, 1)[..., None]
    shade = np.clip((heaps - 0.9) / 1.6, 0, 1)[..., None]
    bright = np.array([246.0, 248.0, 250.0]) * (0.86 + 0.14 * lit)
    dark = np.array([205.0, 198.0, 192.0])
    light = bright + (dark - bright) * shade * 0.85
    cover = 1 - (1 - wisp_cover) * (1 - heap_cover)
    veil = np.clip(up / 0.045, 0, 1)  # the decks end in the haze
    return cover * veil, light


def _on_deck(
    field: NDArray[np.float32], across: Floats, up: Floats, per_x: float, per_z: float
) -> Floats:
    """A field on a level deck of cloud, seen from below."""
    reach = 1 / np.maximum(up + 0.075, 0.02)
    x = (across * reach * per_x / 4).astype(np.float32)
    z = (reach * per_z / 4).astype(np.float32)
    return cv2.remap(field, x, z, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP).astype(np.float64)


def _shore(
    rng: np.random.Generator, camera: Camera, width: int
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Three ranges of wooded islands, the further the paler."""
    scale = camera.width_px / 1280
    rows = max(round(52 * scale), 6)
    image = np.zeros((rows, width, 3), np.float32)
    cover = np.zeros((rows, width), np.float32)
    above = rows - np.arange(rows)[:, None] - 0.5
    ranges = (
        (9, 13.0, 0.0, (200, 190, 174), 0.008),
        (7, 17.0, 0.25, (166, 152, 128), 0.022),
        (5, 27.0, 0.42, (104, 92, 66), 0.06),
    )
    for bends, height, sink, colour, rough in ranges:
        line = _skyline(rng, width, bends, scale) * height * scale
        line -= sink * height * scale
        part = np.clip(line[None, :] - above + 0.5, 0, 1).astype(np.float32)
        leaves = fractal(rng, (rows, width), 0.6)[..., None]
        tint = np.array(colour, np.float32) * (1 + np.float32(rough) * leaves)
        image += (tint - image) * part[..., None]
        cover = np.maximum(cover, part)
    return np.ascontiguousarray(image), np.ascontiguousarray(cover * 0.94)


def _skyline(rng: np.random.Generator, width: int, bends: int, scale: float) -> Floats:
    x = np.linspace(0, 1, width)
    line = np.zeros(width)
    for _ in range(bends):
        centre, half = float(rng.uniform(-0.05, 1.05)), float(rng.uniform(0.05, 0.16))
        hill = np.clip(1 - ((x - centre) / half) ** 2, 0, None) ** 0.6
        line = np.maximum(line, hill * float(rng.uniform(0.45, 1.0)))
    trees = fractal(rng, (4, width), 0.55)[0] * 0.10 + fractal(rng, (4, width), 1.2)[1] * 0.07
    return np.asarray(line * (1 + trees) * min(1.0, 0.6 + scale), dtype=np.float64)
