"""The sea: a plane of sloping facets in true perspective, streaming past at the boat's speed.

Each pixel below the horizon meets the water at a known place. There the slopes of two
patches of waves are looked up, seen through a blur along the view that grows with distance
and with the way made during the exposure. A facet's slope and the angle of view give its
colour (Fresnel's law between reflected sky and the deep), and the slopes that throw the sun
at the camera glitter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from demo_media.scene.arrays import Picture, Pixels, picture
from demo_media.scene.camera import Camera
from demo_media.scene.fields import slope_fields, wave_slopes
from demo_media.scene.light import SLOPE_RANGE, SLOPES, colour_table, sun_slopes
from demo_media.scene.sky import SUN_AZIMUTH_DEG

if TYPE_CHECKING:
    from numpy.typing import NDArray

EXPOSURE_S = 1 / 90
"""Time that one frame gathers light; shorter than a cinema's, as action cameras do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """A tiling patch of waves at several blurs along the view, each with its first row and column
    once more at its end."""

    size_m: tuple[float, float]
    blurs_m: tuple[float, ...]
    levels: tuple[Picture, ...]
    slope_sds: tuple[tuple[float, float], ...]
    drift_mps: tuple[float, float]
    sheets: int


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """Where the boat is over the water: metres along and across the course, heading off it."""

    along_m: float
    across_m: float
    yaw_rad: float
    height_m: float
    speed_mps: float
    t_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sea:
    """Everything about the water that no frame changes."""

    camera: Camera
    patches: tuple[Patch, ...]
    colours: NDArray[np.uint32]
    tan_down: Picture
    across: Picture
    sun_slopes: tuple[Picture, Picture]
    sun_columns: tuple[int, int]
    sharpness: Picture

    def draw(self, canvas: Pixels, view: View, rows: int) -> None:
        """Draw onto the canvas's rows below the horizon, as many as the deck leaves free."""
        camera = self.camera
        rows = min(max(rows, 8), camera.below_px)
        rows -= rows % 2
        slopes = self._slopes(view, rows)
        index = slopes[..., 0] * (SLOPES / 2 / SLOPE_RANGE) + SLOPES / 2
        np.clip(index, 0, SLOPES - 1, out=index)
        flat = index.astype(np.int32)
        flat += np.arange(rows, dtype=np.int32)[:, None] * SLOPES
        picked = self.colours.ravel().take(flat)
        below = canvas[camera.above_px : camera.above_px + rows]
        cv2.cvtColor(picked.view(np.uint8).reshape(*flat.shape, 4), cv2.COLOR_BGRA2BGR, dst=below)
        self._glitter(below, slopes)

    def _slopes(self, view: View, rows: int) -> Picture:
        """Slopes of the water seen by each pixel.

        Every second column is enough, since distance draws the waves out sideways; close by,
        every second row is enough as well.
        """
        far = min(rows, self.camera.below_px // 4 * 2)
        across = self.across.reshape(-1, 2).mean(axis=1)
        slopes = np.empty((rows, self.camera.canvas_width, 2), np.float32)
        for top, bottom, step in ((0, far, 1), (far, rows, 2)):
            if top == bottom:
                continue
            tan_down = self.tan_down[top:bottom].reshape(-1, step).mean(axis=1)
            coarse = np.zeros((tan_down.size, across.size, 2), np.float32)
            self._add_patches(coarse, tan_down, across, view)
            size = (self.camera.canvas_width, bottom - top)
            cv2.resize(coarse, size, dst=slopes[top:bottom], interpolation=cv2.INTER_LINEAR)
        return slopes

    def _add_patches(self, slopes: Picture, tan_down: Picture, across: Picture, view: View) -> None:
        reach = (view.height_m / tan_down).astype(np.float32)
        for patch in self.patches:
            _add_patch(slopes, patch, reach, across, view, self.camera)

    def _glitter(self, below: Pixels, slopes: Picture) -> None:
        """Add the sun's light from facets that throw it at the camera."""
        left, right = self.sun_columns
        if left == right:
            return
        rows = slopes.shape[0]
        along = slopes[:, left:right, 0] - self.sun_slopes[0][:rows]
        across = slopes[:, left:right, 1] - self.sun_slopes[1][:rows]
        along *= along
        across *= across
        along += across
        along *= -self.sharpness[:rows, None]
        light = cv2.exp(along)
        light *= np.minimum(self.sharpness[:rows] / 150, 1.6)[:, None]
        np.minimum(light, 1.0, out=light)
        sparkle = cv2.merge([light * 205, light * 236, light * 255]).astype(np.uint8)
        part = below[:, left:right]
        part[:] = cv2.add(np.ascontiguousarray(part), sparkle)


def _add_patch(
    slopes: Picture, patch: Patch, reach: Picture, across: Picture, view: View, camera: Camera
) -> None:
    """Add a patch's slopes to every row that still shows its waves."""
    footprint = 0.5 * reach**2 / (camera.focal_px * view.height_m)
    blur = np.hypot(footprint, 0.3 * view.speed_mps * EXPOSURE_S)
    steps = np.interp(np.log(blur), np.log(np.array(patch.blurs_m)), np.arange(len(patch.blurs_m)))
    beyond = np.clip(1 - (blur / patch.blurs_m[-1] - 1.0), 0, 1)
    whole = np.floor(steps)
    steps = whole + np.clip((steps - whole - 0.5) * 2.8 + 0.5, 0, 1)  # short cross-fades
    for level, texture in enumerate(patch.levels):
        weight = np.clip(1 - np.abs(steps - level), 0, 1) * beyond
        rows = np.flatnonzero(weight > 0.01)
        if rows.size == 0:
            continue
        top, bottom = int(rows[0]), int(rows[-1]) + 1
        seen = _look_up(texture, patch, reach[top:bottom], across, view)
        if weight[top:bottom].min() < 1:
            seen *= weight[top:bottom, None, None].astype(np.float32)
        slopes[top:bottom] += seen


def _look_up(
    texture: Picture, patch: Patch, reach: Picture, across: Picture, view: View
) -> Picture:
    """A texture on the water plane: one sheet, or two that drift through each other."""
    c, s = math.cos(view.yaw_rad), math.sin(view.yaw_rad)
    height, width = (side - 1 for side in texture.shape[:2])
    along_per, across_per = height / patch.size_m[0], width / patch.size_m[1]
    depth = reach[:, None]
    row0 = (view.along_m + patch.drift_mps[0] * view.t_s) * along_per
    column0 = (view.across_m + patch.drift_mps[1] * view.t_s) * across_per
    rows = depth * ((c - s * across) * along_per)[None, :]
    rows += np.float32(row0 % height)
    columns = depth * ((c * across + s) * across_per)[None, :]
    columns += np.float32(column0 % width)
    first = _remap(texture, columns, rows)
    if patch.sheets == 1:
        return first
    rows += np.float32((137.0 + 1.7 * patch.drift_mps[0] * view.t_s) % height)
    columns += np.float32((61.0 - 2.6 * patch.drift_mps[1] * view.t_s) % width)
    first += _remap(texture, columns, rows)
    first *= np.float32(math.sqrt(0.5))
    return first


def _remap(texture: Picture, columns: Picture, rows: Picture) -> Picture:
    """A texture, which goes on for ever, at places [shape of `rows`, of which there are as many].

    It has its first row and column once more at its end. OpenCV can go on by itself, but looks at
    each place that lies outside one by one, which takes twice as long, and cannot count over 32767.
    """
    height, width = (side - 1 for side in texture.shape[:2])
    inside = _wrapped(columns, width), _wrapped(rows, height)
    return picture(cv2.remap(texture, *inside, cv2.INTER_LINEAR))


def _wrapped(places: Picture, period: int) -> Picture:
    return np.asarray(places - np.floor(places * np.float32(1 / period)) * np.float32(period))


def make_sea(camera: Camera, seed: int, sun_deg: float = SUN_AZIMUTH_DEG) -> Sea:
    """Work out patches, colours and the sun's slopes, the sun to the right of the middle."""
    rng = np.random.default_rng([seed, 2])
    patches = (
        _patch(rng, (12.0, 12.0), (0.07, 2.2), 0.11, 0.4, (0.01, 0.04, 0.15, 0.5), (0.55, 0.22), 2),
        _patch(
            rng, (96.0, 72.0), (1.2, 34.0), 0.085, 1.1, (0.12, 0.4, 1.3, 4.2, 12.0), (2.2, 0.5), 1
        ),
    )
    tan_down = ((np.arange(camera.below_px) + 0.5) / camera.focal_px).astype(np.float32)
    across = (
        (np.arange(camera.canvas_width) + 0.5 - camera.canvas_width / 2) / camera.focal_px
    ).astype(np.float32)
    lost = _lost_slopes(patches, tan_down, camera)
    columns, slopes = sun_slopes(camera, tan_down, across, sun_deg)
    return Sea(
        camera=camera,
        patches=patches,
        colours=colour_table(tan_down, lost),
        tan_down=tan_down,
        across=across,
        sun_slopes=slopes,
        sun_columns=columns,
        sharpness=(1 / (2 * (0.035**2 + lost**2))).astype(np.float32),
    )


def _patch(
    rng: np.random.Generator,
    size_m: tuple[float, float],
    band_m: tuple[float, float],
    slope_sd: float,
    towards: float,
    blurs_m: tuple[float, ...],
    drift_mps: tuple[float, float],
    sheets: int,
) -> Patch:
    shape = (512, 512)
    heights = wave_slopes(rng, shape, size_m, band_m, slope_sd, towards)
    levels = tuple(slope_fields(heights, shape, size_m, blur) for blur in blurs_m)
    sds = tuple((float(level[..., 0].std()), float(level[..., 1].std())) for level in levels)
    return Patch(
        size_m=size_m,
        blurs_m=blurs_m,
        levels=tuple(np.pad(level, ((0, 1), (0, 1), (0, 0)), mode="wrap") for level in levels),
        slope_sds=sds,
        drift_mps=drift_mps,
        sheets=sheets,
    )


def _lost_slopes(patches: tuple[Patch, ...], tan_down: Picture, camera: Camera) -> Picture:
    """Standard deviation of the slopes that the blur hides, by row."""
    reach = camera.height_m / tan_down
    blur = np.hypot(0.5 * reach**2 / (camera.focal_px * camera.height_m), 0.01)
    lost = np.zeros_like(blur)
    for patch in patches:
        kept = [sd[0] ** 2 for sd in patch.slope_sds]
        whole = kept[0]
        blurs = np.log(np.array([*patch.blurs_m, patch.blurs_m[-1] * 2]))
        lost += whole - np.interp(np.log(blur), blurs, np.array([*kept, 0.0]))
    return picture(np.sqrt(np.maximum(lost, 0)))
