"""Spray: what the bow throws out to the sides as it climbs over its wave and runs on.

Every drop is a function of its number and of time alone, so that any frame can be drawn
without the one before it. Drops leave in jets, a few dozen that share a direction, which
gives the sheet its fingers.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from demo_media.scene.arrays import Floats, Picture, Pixels
from demo_media.scene.camera import Camera
from demo_media.scene.shape import half_breadth
from demo_media.simulate import Day

if TYPE_CHECKING:
    from numpy.typing import NDArray

DROPS_PER_S = 14000
"""Drops that a bow at its hardest throws to each side in a second."""

PER_JET = 70
LIFE_S = 0.8
COARSER = 2
"""How much coarser than the picture spray is worked out."""

TOP_SHARE = 1 / 3
"""Share of the picture's height above which no drop flies."""

FALL = 9.81
EXPOSURE_S = 1 / 90
TRAIL = 3
"""Places along a drop's way during the exposure at which it leaves its light."""

WHITE = (248.0, 246.0, 242.0)
LEAST_MPS = 2.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Spray:
    """The spray of one camera's view."""

    camera: Camera
    seed: int

    def draw(self, picture: Pixels, day: Day, t_s: float) -> None:
        """Draw onto a picture that holds water and sky, before the deck hides its share."""
        if float(day.at("water_mps", t_s)[0]) < LEAST_MPS:
            return
        top = round(self.camera.height_px * TOP_SHARE / COARSER) * COARSER
        part = picture[top:]
        light = np.zeros((part.shape[0] // COARSER, part.shape[1] // COARSER), np.float32)
        for side in (-1.0, 1.0):
            self._throw(light, top, day, t_s, side)
        lit = np.flatnonzero(light.any(axis=1))
        if lit.size == 0:
            return
        fine = self.camera.width_px / 1280
        first = max(int(lit[0]) - round(22 * fine), 0)  # as far up as its mist reaches
        light, part = light[first:], part[first * COARSER :]
        size = part.shape[1::-1]
        small = cv2.resize(light, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
        mist = cv2.GaussianBlur(small, (0, 0), max(1.75 * fine, 0.3))
        mist = cv2.resize(mist, light.shape[::-1], interpolation=cv2.INTER_LINEAR)
        drops = cv2.GaussianBlur(light, (0, 0), max(0.75 * fine, 0.3))
        dense = 1 - cv2.exp(-(7.0 * drops + 7.0 * mist))
        cover = cv2.resize(dense, size, interpolation=cv2.INTER_LINEAR)
        white = np.full_like(part, WHITE)
        part[:] = cv2.blendLinear(part, white, 1 - cover, cover)

    def _throw(self, light: Picture, top: int, day: Day, t_s: float, side: float) -> None:
        """Add the light of all drops in the air to one side."""
        number = np.arange(int(np.ceil((t_s - LIFE_S) * DROPS_PER_S)), int(t_s * DROPS_PER_S) + 1)
        born = number / DROPS_PER_S
        speed = day.at("water_mps", born)
        own = chance(2 * number + int(side > 0), self.seed)
        strong = np.clip((speed - LEAST_MPS) / 4.0, 0, 1) * _bursts(born + 3.7 * side)
        alive = own[5] < strong
        if not alive.any():
            return
        jet = chance(2 * (number[alive] // PER_JET) + int(side > 0), self.seed + 1)
        path = _Flight(own=own[:, alive], jet=jet, speed=speed[alive], side=side)
        age = t_s - born[alive]
        ahead, right, up = path.at(age)
        view = 0.85 * ahead + 0.1  # wider than the lens
        near = (ahead > 0.35) & (up > -0.1) & (np.abs(right) < view)
        path, age = path.only(near), age[near]
        for share in range(TRAIL):
            before = (share + path.own[1]) * EXPOSURE_S / TRAIL
            places = path.at(np.maximum(age - before, 0))
            self._light(light, top, places, path.size_m(age))

    def _light(self, light: Picture, top: int, places: Floats, size_m: Floats) -> None:
        seen = self.camera.of_boat(*places)
        columns = seen[:, 0] / COARSER
        rows = (seen[:, 1] - top) / COARSER
        shown = (places[0] > 0.35) & (places[2] > -0.1)
        shown &= (columns >= 0) & (columns < light.shape[1]) & (rows >= 0)
        shown &= rows < light.shape[0]
        size_px = size_m[shown] * self.camera.focal_px / seen[shown, 2] / COARSER
        where = (rows[shown].astype(np.int64), columns[shown].astype(np.int64))
        np.add.at(light, where, (np.minimum(size_px, 4.0) ** 2 / TRAIL).astype(np.float32))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Flight:
    """Where drops fly: out, up and aft, slowed by the air [own, jet: shape=(6, n)]."""

    own: Floats
    jet: Floats
    speed: Floats
    side: float

    def only(self, these: NDArray[np.bool_]) -> _Flight:
        """Some of the drops."""
        return replace(
            self, own=self.own[:, these], jet=self.jet[:, these], speed=self.speed[these]
        )

    def at(self, age_s: Floats) -> Floats:
        """Ahead, right and up in metres [shape=(3, n)]."""
        mixed = 0.80 * self.jet + 0.20 * self.own
        vigour = np.clip(self.speed / 9.0, 0.3, 1.2)
        drag = (1 - np.exp(-age_s * 0.5)) / 0.5
        root = _root(self.speed) + 0.75 - 0.75 * mixed[1]
        ahead = root - self.speed * (age_s - (0.90 + 0.09 * mixed[2]) * drag)
        out = (1.8 + 4.2 * mixed[3]) * vigour**0.6 * drag
        right = self.side * (half_breadth(np.clip(root, 0, None)) * 0.9 + out)
        rise = (1.0 + 4.4 * mixed[4] ** 1.3) * vigour**0.5
        return np.stack([ahead, right, 0.1 + rise * age_s - 0.5 * FALL * age_s**2])

    def size_m(self, age_s: Floats) -> Floats:
        """Size of the drops, which break up as they fly."""
        return np.asarray((0.0028 + 0.0085 * self.own[0] ** 5) * np.exp(-age_s * 0.9))


def _bursts(t_s: Floats) -> Floats:
    """How much the bow throws: never nothing, and most when it meets a wave."""
    waves = np.sin(t_s * 5.3) + 0.8 * np.sin(t_s * 8.9 + 1.0) + 0.6 * np.sin(t_s * 13.7 + 2.0)
    return np.asarray(0.25 + 0.75 * np.clip(waves / 2.0, 0, 1) ** 1.5)


def _root(speed: Floats) -> Floats:
    """Where the hull meets the water, ahead of the camera: further aft as it planes."""
    return np.asarray(2.75 - 0.55 * np.clip((speed - 3.0) / 15.0, 0, 1))


def chance(number: NDArray[np.int64], seed: int) -> Floats:
    """Six values between 0 and 1 for each number, always the same [shape=(6, n)]."""
    key = (number[None, :] * 6 + np.arange(6)[:, None] + seed * 7919).astype(np.uint64)
    key ^= key >> np.uint64(31)
    key *= np.uint64(0x9E3779B97F4A7C15)
    key ^= key >> np.uint64(29)
    key *= np.uint64(0xBF58476D1CE4E5B9)
    key ^= key >> np.uint64(32)
    return np.asarray((key >> np.uint64(11)).astype(np.float64) / 2.0**53)
