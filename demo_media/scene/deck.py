"""The foredeck: drawn once, large, shaded and scaled down, then laid over every frame."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from demo_media.scene.arrays import Floats, Picture, Pixels, picture
from demo_media.scene.camera import Camera
from demo_media.scene.easel import FINER, Easel, softened
from demo_media.scene.fields import fractal
from demo_media.scene.shape import STEM_M, half_breadth, outline, rail, sheer
from demo_media.scene.sky import SUN_AZIMUTH_DEG, SUN_HEIGHT_DEG

if TYPE_CHECKING:
    from numpy.typing import NDArray

GELCOAT = (246.0, 249.0, 250.0)
PLANK = (138.0, 178.0, 206.0)
CAULK = (62.0, 70.0, 78.0)
STEEL = (196.0, 198.0, 198.0)
HATCH = (70.0, 58.0, 46.0)
SEAL = (74.0, 64.0, 58.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Deck:
    """The deck's picture, its colours already weighted by its cover, from `top_px` down."""

    top_px: int
    weighted: Pixels
    through: Pixels

    def draw(self, picture: Pixels) -> None:
        """Lay the deck over a picture."""
        part = picture[self.top_px :]
        seen = cv2.multiply(part, self.through, scale=1 / 255)
        cv2.add(seen, self.weighted, dst=part)


def make_deck(camera: Camera, seed: int) -> Deck:
    """Draw the deck for a size of picture."""
    rng = np.random.default_rng([seed, 3])
    easel = Easel(camera)
    _hull(easel, rng)
    _hatch(easel)
    _shadows(easel)
    _fittings(easel)
    _rails(easel)
    first = easel.top // FINER
    size = (camera.width_px, camera.height_px - first)
    cover = cv2.resize(easel.cover, size, interpolation=cv2.INTER_AREA)
    weighted = cv2.resize(easel.colour * easel.cover[..., None], size, interpolation=cv2.INTER_AREA)
    top = int(np.flatnonzero(cover.max(axis=1) > 0.004)[0])
    through = np.repeat(255 - np.round(cover[top:] * 255)[..., None], 3, axis=2)
    return Deck(
        top_px=first + top,
        weighted=np.clip(np.round(weighted[top:]), 0, 255).astype(np.uint8),
        through=np.ascontiguousarray(through.astype(np.uint8)),
    )


def _sunlight(easel: Easel) -> Picture:
    """Brightness over the easel: the bow and the sunny side are brighter."""
    rows = np.linspace(1, 0, easel.cover.shape[0], dtype=np.float32)[:, None]
    columns = np.linspace(-1, 1, easel.cover.shape[1], dtype=np.float32)[None, :]
    return np.asarray(0.86 + 0.13 * rows + 0.06 * columns, dtype=np.float32)


def _inner_shade(easel: Easel) -> Picture:
    """The inner side of the bulwark: darker to starboard, which faces away from the sun."""
    columns = np.linspace(-1, 1, easel.cover.shape[1], dtype=np.float32)[None, :, None]
    rows = np.linspace(0, 1, easel.cover.shape[0], dtype=np.float32)[:, None, None]
    return picture(0.66 - 0.09 * columns + 0.06 * rows)


def _hull(easel: Easel, rng: np.random.Generator) -> None:
    """Edge strip, gunwale, the well inside it and its planked floor."""
    sun = _sunlight(easel)
    rub = easel.mask(_ring(easel, -0.035, 0.07))
    easel.paint(rub, SEAL)
    cap = easel.mask(_ring(easel, 0.0, 0.0))
    easel.paint(cap, sun[..., None] * np.array(GELCOAT, np.float32))
    inner = easel.mask(_ring(easel, 0.135, 0.0))
    easel.paint(inner, sun[..., None] * np.array(GELCOAT, np.float32) * _inner_shade(easel))
    floor = easel.mask(_ring(easel, 0.165, 0.10))
    easel.paint(floor, sun[..., None] * _planks(easel, rng))
    near_edge = cv2.GaussianBlur(floor, (0, 0), easel.camera.width_px * 0.008)
    easel.shade(floor * np.clip(1 - near_edge, 0, 1), 0.75)
    crown = np.clip(
        easel.mask(_ring(easel, 0.045, -0.006)) - easel.mask(_ring(easel, 0.075, -0.006)), 0, 1
    )
    easel.paint(crown * np.float32(0.55), (255.0, 255.0, 255.0))
    edge = np.clip(cap - easel.mask(_ring(easel, 0.012, 0.0)), 0, 1)
    easel.shade(edge, 0.25)


def _ring(easel: Easel, inset_m: float, drop_m: float) -> NDArray[np.int32]:
    return easel.place(*outline(inset_m, drop_m))


def _planks(easel: Easel, rng: np.random.Generator) -> Picture:
    """A laid deck: planks along the boat with dark seams, worked out on the deck's plane."""
    across, ahead = _deck_plane(easel)
    width = 0.062
    place = across / width
    nearest = np.abs(place - np.round(place)) * width
    pixel = np.maximum(ahead, 0.3) / easel.camera.focal_px
    seam = np.clip(1.5 - np.abs(nearest) / np.maximum(0.0035, pixel), 0, 1)
    seam *= np.clip(0.006 / pixel, 0.35, 1)
    number = np.round(place - 0.5 + 1e-6).astype(np.int32) % 64
    shade = (1 + 0.05 * rng.normal(size=64))[number]
    grain = fractal(rng, (512, 512), 0.9)
    fibre = cv2.remap(
        grain,
        (across * 900).astype(np.float32),
        (ahead * 60).astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_WRAP,
    )
    wood = np.array(PLANK, np.float32) * (shade + 0.035 * fibre)[..., None].astype(np.float32)
    return np.asarray(
        wood + (np.array(CAULK, np.float32) - wood) * seam[..., None].astype(np.float32)
    )


def _deck_plane(easel: Easel) -> tuple[Floats, Floats]:
    """Right and ahead in metres at which each pixel meets the deck."""
    ends = easel.seen(np.array([0.8, 3.2]), np.zeros(2), sheer(np.array([0.8, 3.2])) - 0.1)
    ahead_at = np.linspace(0.3, 3.6, 800)
    rows_at = easel.seen(ahead_at, np.zeros(800), sheer(ahead_at) - 0.1)
    rows = np.arange(easel.cover.shape[0]) + 0.5
    order = np.argsort(rows_at[:, 1])
    ahead = np.interp(rows, rows_at[order, 1], ahead_at[order])
    depth = np.interp(rows, rows_at[order, 1], rows_at[order, 2])
    columns = np.arange(easel.cover.shape[1]) + 0.5 - ends[0, 0]
    across = columns[None, :] * depth[:, None] / easel.camera.focal_px
    return across, np.broadcast_to(ahead[:, None], across.shape)


def _hatch(easel: Easel) -> None:
    """A tinted hatch in the middle of the deck, its frame catching the light."""
    frame = easel.mask(_box(easel, 1.72, 2.30, 0.30, 0.075))
    easel.shade(softened(frame, easel.camera.width_px * 0.004), 0.45)
    easel.paint(frame, GELCOAT)
    glass = easel.mask(_box(easel, 1.765, 2.255, 0.255, 0.07))
    rows = np.linspace(1, 0, easel.cover.shape[0], dtype=np.float32)[:, None, None]
    sheen = np.clip(rows * 3.2 - 0.10, 0, 1) ** 1.5  # the far end mirrors the low sky
    tint = np.array(HATCH, np.float32) + sheen * np.array([112.0, 104.0, 96.0], np.float32)
    easel.paint(glass, np.broadcast_to(tint, easel.colour.shape))


def _box(easel: Easel, aft: float, fore: float, half: float, drop: float) -> NDArray[np.int32]:
    """A rounded box on the deck."""
    turn = np.linspace(0, 2 * np.pi, 160)
    power = 0.22
    ahead = (aft + fore) / 2 + (fore - aft) / 2 * np.sign(np.cos(turn)) * np.abs(
        np.cos(turn)
    ) ** power
    right = half * np.sign(np.sin(turn)) * np.abs(np.sin(turn)) ** power
    return easel.place(ahead, right, sheer(ahead) - drop)


def _shadows(easel: Easel) -> None:
    """Shadows of the rails on the deck, cast away from the sun and soft at the edges."""
    azimuth, height = math.radians(SUN_AZIMUTH_DEG), math.radians(SUN_HEIGHT_DEG)
    shadow = np.zeros_like(easel.cover)
    for side in (-1.0, 1.0):
        ahead, right, up = rail(side)
        lift = up - sheer(ahead) + 0.08
        away = lift / math.tan(height)
        x, y = ahead - away * math.cos(azimuth), right - away * math.sin(azimuth)
        shadow = np.maximum(
            shadow, easel.stroke(easel.seen(x, y, sheer(np.maximum(x, 0)) - 0.08), 0.03)
        )
    soft = cv2.GaussianBlur(shadow, (0, 0), easel.camera.width_px * 0.0011)
    floor = easel.mask(_ring(easel, 0.165, 0.10))
    easel.shade(soft * floor, 0.42)


def _fittings(easel: Easel) -> None:
    """Roller and cleats at the bow, and the side lights' housing on the stem."""
    for right in (-0.16, 0.16):
        ahead = np.array([2.72, 2.94])
        bar = easel.seen(ahead, np.array([right, right]), sheer(ahead) + 0.015)
        easel.shade(softened(easel.stroke(bar, 0.05), easel.camera.width_px * 0.0016), 0.4)
        easel.paint(easel.stroke(bar, 0.034), (120.0, 120.0, 118.0))
        bar[:, 1] -= easel.camera.focal_px * 0.006 / bar[:, 2]
        easel.paint(easel.stroke(bar, 0.016), (240.0, 242.0, 242.0))
    ahead = np.array([3.12, STEM_M + 0.10])
    plate = easel.seen(ahead, np.zeros(2), sheer(ahead) + 0.03)
    easel.paint(easel.stroke(plate, 0.10), (112.0, 112.0, 110.0))
    plate[:, 1] -= easel.camera.focal_px * 0.012 / plate[:, 2]
    easel.paint(easel.stroke(plate, 0.070), (206.0, 208.0, 208.0))
    plate[:, 1] += easel.camera.focal_px * 0.004 / plate[:, 2]
    easel.paint(easel.stroke(plate, 0.026), (118.0, 116.0, 112.0))


def _rails(easel: Easel) -> None:
    """Steel tubes: stanchions first, then the rail that joins them."""
    for side in (-1.0, 1.0):
        for ahead_m in (1.95, 2.65, 3.2):
            ahead = np.array([ahead_m, ahead_m + 0.015])
            right = side * (half_breadth(ahead * STEM_M / (STEM_M - 0.08)) - 0.07)
            up = np.array([float(sheer(ahead_m)), float(sheer(ahead_m)) + 0.42])
            _tube(easel, easel.seen(ahead, right, up), 0.024)
    port, starboard = rail(-1.0), rail(1.0)
    whole = [np.concatenate([one, other[::-1]]) for one, other in zip(port, starboard, strict=True)]
    _tube(easel, easel.seen(*whole), 0.030)


def _tube(easel: Easel, points: Floats, width_m: float) -> None:
    """A polished tube: dark below, bright along its upper side."""
    easel.paint(easel.stroke(points, width_m), (96.0, 92.0, 88.0))
    body = points.copy()
    body[:, 1] -= easel.camera.focal_px * width_m * 0.10 / points[:, 2]
    easel.paint(easel.stroke(body, width_m * 0.66), STEEL)
    body[:, 1] -= easel.camera.focal_px * width_m * 0.14 / points[:, 2]
    easel.paint(easel.stroke(body, width_m * 0.24), (252.0, 253.0, 255.0))
