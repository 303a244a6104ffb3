"""What the other boat leaves on the water: spray from its chines and the white of its wake.

Drop and fleck are functions of their number and of time alone, as in `spray`: they are born
where the boat was then, and stay over the same water while the boat goes on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from demo_media.scene.abeam import Abeam, over_water
from demo_media.scene.arrays import Floats, Picture, Pixels
from demo_media.scene.arrays import picture as picture_of
from demo_media.scene.spray import chance
from demo_media.simulate import Day

DROPS_PER_S = 14000
"""Drops that a chine at its hardest throws in a second."""

PER_JET, LIFE_S = 60, 0.9
FLECKS_PER_S, FLECK_LIFE_S = 900, 8.0
"""Patches of foam that the wake is made of, and how long one is seen."""

LEAST_MPS = 2.2
FALL = 9.81
WHITE = (250.0, 248.0, 244.0)
COARSER = 2
"""How much coarser than the picture foam and spray are worked out."""

TOP_SHARE = 0.34
"""Share of the picture's height above which there is neither."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wake:
    """Spray and foam of the boat for one seed of chance."""

    day: Day
    seed: int

    def draw_foam(self, picture: Pixels, view: Abeam, t_s: float) -> None:
        """The wake's foam, before the boat hides its share."""
        number = np.arange(
            math.ceil((t_s - FLECK_LIFE_S) * FLECKS_PER_S), math.floor(t_s * FLECKS_PER_S) + 1
        )
        own = chance(number, self.seed + 11)
        born = number / FLECKS_PER_S
        speed = np.abs(self.day.at("water_mps", born))
        strong = np.clip((speed - 0.8) / 7.0, 0, 1) ** 0.7
        load = np.clip(self.day.at("engine_rps", born) / 50.0, 0, 1)
        alive = own[5] < np.maximum(strong, 0.5 * load * (self.day.at("gear", born) != 0))
        born, own, speed = born[alive], own[:, alive], speed[alive]
        age = t_s - born
        wash = own[0] < 0.6
        out = np.where(wash, 1.3 * (own[1] - 0.5), np.sign(own[1] - 0.5) * 0.95)
        out = out + np.sign(out) * np.minimum(age, 6.0) * (0.16 + 0.035 * speed) * own[2]
        east, north = self._place(born, -2.7 - 1.2 * own[3], out)
        boil = np.where(wash, 0.55 * np.clip(speed / 8, 0, 1) * own[2] ** 2, 0.15)
        up = boil * np.exp(-(((age - 0.12) / 0.28) ** 2))
        seen = view.seen(east, north, up)
        fade = np.clip(age / 0.1, 0, 1) * (0.75 * np.exp(-age / 0.8) + 0.5 * np.exp(-age / 4.0))
        size = view.camera.focal_px / seen[:, 2] * (0.4 + 0.6 * own[4])
        light = _light(picture, seen, fade * size * np.clip(speed / 7 + 0.3, 0, 3.0))
        _whiten(picture, light, ((0.42, 9.0, 1.5), (0.20, 3.0, 1.0)), 0.88)

    def draw_spray(self, picture: Pixels, view: Abeam, t_s: float, port: float) -> None:
        """The drops in the air on one side, 1 for port and -1 for starboard."""
        if float(self.day.at("water_mps", t_s)[0]) < LEAST_MPS:
            return
        number = np.arange(
            math.ceil((t_s - LIFE_S) * DROPS_PER_S), math.floor(t_s * DROPS_PER_S) + 1
        )
        born = number / DROPS_PER_S
        speed = self.day.at("water_mps", born)
        own = chance(2 * number + int(port > 0), self.seed)
        strong = np.clip((speed - LEAST_MPS) / 4.0, 0, 1) * _bursts(born + 2.9 * port)
        alive = own[5] < strong
        if not alive.any():
            return
        jet = chance(2 * (number[alive] // PER_JET) + int(port > 0), self.seed + 1)
        born, speed, own = born[alive], speed[alive], own[:, alive]
        age = t_s - born
        ahead, out, up = _flight(age, speed, 0.75 * jet + 0.25 * own)
        east, north = self._place(born, ahead, port * out)
        aloft = up > -0.02
        seen = view.seen(east[aloft], north[aloft], np.maximum(up[aloft], 0.0))
        size = view.camera.focal_px / seen[:, 2] * (0.011 + 0.022 * own[0][aloft] ** 3)
        light = _light(picture, seen, np.minimum(size, 2.5) ** 2 * np.exp(-age[aloft] * 1.3))
        _whiten(picture, light, ((1.9, 4.5, 2.4), (1.2, 1.2, 0.8)), 0.93)

    def _place(self, born: Floats, ahead: Floats, port: Floats) -> tuple[Floats, Floats]:
        """East and north on the water of places by the boat as it was then."""
        east, north = over_water(self.day, born)
        heading = self.day.at("heading_rad", born)
        c, s = np.cos(heading), np.sin(heading)
        return east + ahead * s - port * c, north + ahead * c + port * s


def _flight(age: Floats, speed: Floats, mixed: Floats) -> tuple[Floats, Floats, Floats]:
    """Ahead of where the boat was, out from its middle, and up, in m.

    Drops leave the chine where the hull meets the water, which moves aft as it planes, with
    most of the boat's way on them.
    """
    plane = np.clip((speed - 4.0) / 12.0, 0, 1)
    root = 1.3 - 1.7 * plane - (1.2 + 1.6 * plane) * mixed[1] ** 2
    vigour = np.clip(speed / 9.0, 0.25, 1.3)
    drag = (1 - np.exp(-age * 0.9)) / 0.9
    ahead = root + speed * (0.62 + 0.2 * mixed[2]) * drag
    out = 0.95 + (1.2 + 3.6 * mixed[3]) * vigour**0.7 * drag
    rise = (0.7 + 2.6 * mixed[4] ** 1.5) * vigour**0.5
    return ahead, out, 0.12 + rise * age - 0.5 * FALL * age**2


def _bursts(t_s: Floats) -> Floats:
    """How much the hull throws: never nothing, and most when it meets a wave."""
    waves = np.sin(t_s * 4.7) + 0.8 * np.sin(t_s * 8.1 + 1.0) + 0.6 * np.sin(t_s * 12.9 + 2.0)
    return np.asarray(0.35 + 0.65 * np.clip(waves / 2.0, 0, 1) ** 1.5)


def _light(picture: Pixels, seen: Floats, strength: Floats) -> Picture:
    """Light added up at places of the picture, on a coarser grid of its lower part."""
    top = _top(picture)
    shape = ((picture.shape[0] - top) // COARSER, picture.shape[1] // COARSER)
    columns = np.floor(seen[:, 0] / COARSER).astype(np.int64)
    rows = np.floor((seen[:, 1] - top) / COARSER).astype(np.int64)
    inside = (columns >= 0) & (columns < shape[1]) & (rows >= 0) & (rows < shape[0])
    index = rows[inside] * shape[1] + columns[inside]
    summed = np.bincount(index, weights=strength[inside], minlength=shape[0] * shape[1])
    return picture_of(summed.reshape(shape) / COARSER**2)


def _top(picture: Pixels) -> int:
    rows: int = round(picture.shape[0] * TOP_SHARE / COARSER) * COARSER
    return rows


def _whiten(
    picture: Pixels, light: Picture, blurs: tuple[tuple[float, float, float], ...], most: float
) -> None:
    """Cover a picture with white where there is light, never wholly.

    Each of the `blurs` has its share and how far it reaches across and up, in pixels of a
    picture 960 wide.
    """
    lit = np.flatnonzero(light.any(axis=1))
    if lit.size == 0:
        return
    scale = picture.shape[1] / 960 / COARSER
    first, last = max(int(lit[0]) - 8, 0), min(int(lit[-1]) + 9, light.shape[0])
    light = light[first:last]
    dense = np.zeros_like(light)
    for share, across, up in blurs:
        sigmas = (max(across * scale, 0.3), max(up * scale, 0.3))
        dense += share * cv2.GaussianBlur(light, (0, 0), sigmaX=sigmas[0], sigmaY=sigmas[1])
    top = _top(picture)
    part = picture[top + first * COARSER : top + last * COARSER]
    cover = cv2.resize(most * (1 - cv2.exp(-dense)), part.shape[1::-1])
    part[:] = cv2.blendLinear(part, np.full_like(part, WHITE), 1 - cover, cover)
