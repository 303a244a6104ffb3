"""A small world to film: far land and clouds, near water, a deck, spray and a lamp.

Each frame is drawn by looking along every pixel's ray from a camera that is mounted anywhere
on a boat that yaws, pitches and rolls; then it is compressed and read back.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sync.media.small import SmallFrame

Floats = NDArray[np.float64]

WIDE, HIGH = 160, 90
PER_RAD = 160.0
"""Pixels of the panorama to a radian: a little finer than the picture's own."""

UP, DOWN = 0.9, 1.2


@dataclass(frozen=True, kw_only=True)
class Attitude:
    """How the boat lies, at times [shape=(n,), s] of the day; angles in radians."""

    t_s: Floats
    yaw: Floats
    pitch: Floats
    roll: Floats
    speed: Floats

    def at(self, name: str, t_s: Floats | float) -> Floats:
        return np.interp(t_s, self.t_s, getattr(self, name))


@dataclass(frozen=True, kw_only=True)
class Lens:
    """A camera aboard: where it looks (0 ahead, to starboard), down, and its focal length."""

    bearing: float = 0.0
    down: float = 0.10
    focal: float = 0.75
    quality: int = 70
    spray: float = 0.0
    noise: float = 1.5
    deck: bool = True


def _texture(rng: np.random.Generator, shape: tuple[int, int], scale: float) -> Floats:
    noise = rng.normal(size=shape)
    wide = np.hstack([noise, noise, noise])
    smooth = cv2.GaussianBlur(wide, (0, 0), scale)[:, shape[1] : 2 * shape[1]]
    return smooth / smooth.std()


class World:
    """A panorama all around, and a patch of water that repeats."""

    def __init__(self, seed: int) -> None:
        rng = np.random.default_rng(seed)
        columns = round(2 * math.pi * PER_RAD)
        above, below = round(UP * PER_RAD), round(DOWN * PER_RAD)
        sky = (
            190 + 12 * _texture(rng, (above, columns), 14) + 4 * _texture(rng, (above, columns), 4)
        )
        hills = 4 + 3 * _texture(rng, (1, columns), 25)[0] + _texture(rng, (1, columns), 3)[0]
        land = 95 + 25 * _texture(rng, (above, columns), 1.5)
        height = above - np.arange(above)[:, None]
        sky = np.where(height <= np.maximum(hills, 0)[None, :], land, sky)
        self.panorama = np.vstack([sky, np.full((below, columns), 110.0)]).astype(np.float32)
        self.above = above
        self.water = (110 + 22 * _texture(rng, (256, 256), 2.0)).astype(np.float32)
        self.random = rng

    def frame(self, of: Attitude, lens: Lens, t_s: float) -> NDArray[np.uint8]:
        """What the camera shows at an instant, before it is compressed."""
        x, y = np.meshgrid(np.arange(WIDE) - (WIDE - 1) / 2, np.arange(HIGH) - (HIGH - 1) / 2)
        focal = lens.focal * WIDE
        rays = np.stack([x / focal, y / focal, np.ones_like(x)], axis=-1)  # right, down, ahead
        yaw, pitch, roll, run = (float(of.at(n, t_s)) for n in ("yaw", "pitch", "roll", "speed"))
        turn = _yawed(yaw) @ _pitched(pitch) @ _rolled(roll)
        turn = turn @ _yawed(lens.bearing) @ _pitched(-lens.down)
        far = rays @ turn.T
        azimuth = np.arctan2(far[..., 0], far[..., 2])
        dip = np.arctan2(far[..., 1], np.hypot(far[..., 0], far[..., 2]))
        columns = np.mod(azimuth, 2 * math.pi) * PER_RAD
        rows = np.clip(self.above + dip * PER_RAD, 0, self.panorama.shape[0] - 1)
        seen = cv2.remap(
            self.panorama,
            columns.astype(np.float32),
            rows.astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_WRAP,
        )
        below = dip > 0.012
        reach = 2.0 / np.maximum(np.tan(np.maximum(dip, 0.012)), 1e-3)
        ahead = reach * np.cos(azimuth) + run * t_s * math.cos(yaw)
        right = reach * np.sin(azimuth) + run * t_s * math.sin(yaw)
        water = cv2.remap(
            self.water,
            np.mod(right * 12, 256).astype(np.float32),
            np.mod(ahead * 12 + 9 * t_s, 256).astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_WRAP,
        )
        fade = np.clip(dip * 5, 0.1, 1)
        picture = np.where(below, 110 + (water - 110) * fade, seen)
        if lens.deck:
            deck = y > 18 + (x / 9) ** 2 * 0.5
            picture = np.where(deck, np.where((x // 4) % 2 == 0, 210, 60), picture)
        return np.clip(picture, 16, 235).astype(np.uint8)

    def film(self, of: Attitude, lens: Lens, times: Floats, shown: Floats) -> Iterator[SmallFrame]:
        """The frames at times of the day, with the stamps that the footage has."""
        for t_s, stamp in zip(times.tolist(), shown.tolist(), strict=True):
            picture = self.frame(of, lens, t_s)
            yield SmallFrame(t_s=stamp, luma=self.taken(picture, lens))

    def taken(self, picture: NDArray[np.uint8] | Floats, lens: Lens) -> NDArray[np.uint8]:
        """A picture with spray, noise and compression."""
        out = picture.astype(np.float64)
        for _ in range(self.random.poisson(lens.spray)):
            x, y = self.random.uniform(0, WIDE), self.random.uniform(HIGH * 0.3, HIGH)
            cv2.circle(out, (int(x), int(y)), int(self.random.uniform(1, 7)), 230.0, -1)
        out += self.random.normal(0, lens.noise, out.shape)
        made, coded = cv2.imencode(
            ".jpg", np.clip(out, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, lens.quality]
        )
        assert made
        return np.asarray(cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE), dtype=np.uint8)


def _yawed(a: float) -> Floats:
    c, s = math.cos(a), math.sin(a)
    return np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])


def _pitched(a: float) -> Floats:
    c, s = math.cos(a), math.sin(a)
    return np.array([[1, 0, 0], [0, c, -s], [0, s, c]])


def _rolled(a: float) -> Floats:
    c, s = math.cos(a), math.sin(a)
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])


def at_sea(seed: int, length_s: float, *, steady: bool = False) -> Attitude:
    """A boat in a short sea: waves of random lengths, a wandering helm, and some turns."""
    rng = np.random.default_rng(seed)
    t = np.arange(0, length_s, 0.02)

    def waves(size: float, low: float, high: float) -> Floats:
        white = np.fft.rfft(rng.normal(size=t.size))
        hz = np.fft.rfftfreq(t.size, 0.02)
        middle = rng.uniform(low, high)
        shape = np.exp(-0.5 * (np.log(np.maximum(hz, 1e-3) / middle) / 0.35) ** 2)
        made = np.fft.irfft(white * shape, t.size)
        return size * made / made.std()

    wander = waves(0.02, 0.1, 0.25)
    yaw = np.cumsum(wander) * 0.02 + waves(0.008, 0.3, 0.6)
    for at in np.arange(rng.uniform(5, 40), length_s, 70.0):
        rate, lasts = rng.choice([-1, 1]) * rng.uniform(0.08, 0.3), rng.uniform(4, 10)
        yaw += rate * np.clip(t - at, 0, lasts)
    return Attitude(
        t_s=t,
        yaw=0 * t if steady else yaw,
        pitch=0.03 + waves(float(rng.uniform(0.010, 0.03)), 0.35, 0.8),
        roll=waves(float(rng.uniform(0.015, 0.04)), 0.25, 0.6),
        speed=np.full(t.size, rng.uniform(3, 12)),
    )


@dataclass(frozen=True, kw_only=True)
class Lamp:
    """A lamp in the picture: where, how much of the picture, how bright, and when it is lit."""

    across: float
    down: float
    share: float
    bright: float
    lit: tuple[tuple[float, float], ...]

    def drawn(self, picture: NDArray[np.uint8], opens_s: float, shutter_s: float) -> Floats:
        """The picture with the lamp as it shone while the shutter was open."""
        shone = sum(
            max(0.0, min(off, opens_s + shutter_s) - max(on, opens_s)) for on, off in self.lit
        )
        side = math.sqrt(self.share * WIDE * HIGH)
        columns = _covered(WIDE, self.across * WIDE, side)
        rows = _covered(HIGH, self.down * HIGH, side)
        part = np.outer(rows, columns) * min(shone / shutter_s, 1.0)
        return picture + part * np.maximum(self.bright - picture.astype(np.float64), 0.0)


def _covered(count: int, middle: float, side: float) -> Floats:
    """How much of each pixel a stretch covers."""
    edges = np.clip(np.arange(count + 1), middle - side / 2, middle + side / 2)
    return np.diff(edges)


@dataclass(frozen=True, kw_only=True)
class Shutter:
    """How long it is open, and how long it takes from the first row to the last."""

    open_s: float = 0.004
    readout_s: float = 0.0


def filmed_lamp(
    world: World, of: Attitude, lens: Lens, lamp: Lamp, shutter: Shutter, times: Floats
) -> Iterator[SmallFrame]:
    """Frames stamped as the first row's shutter opens, on a sea that glitters."""
    for t_s in times.tolist():
        picture = world.frame(of, lens, t_s)
        lit = lamp.drawn(picture, t_s + lamp.down * shutter.readout_s, shutter.open_s)
        for _ in range(25):
            x, y = world.random.integers(0, WIDE), world.random.integers(HIGH // 2, HIGH)
            lit[y, x] = 235
        yield SmallFrame(t_s=t_s, luma=world.taken(np.asarray(lit, dtype=np.float64), lens))
