"""A small world to film: far land and clouds, near water, a deck, spray and glitter.

Each frame is drawn by looking along every pixel's ray from a camera that is mounted anywhere
on a boat that yaws, pitches and rolls, row by row as its shutter rolls down; then it is
compressed and read back. `lamp_world` holds a lamp into it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from sync.media.small import SmallFrame

Floats = NDArray[np.float64]
Grey = NDArray[np.float32]

WIDE, HIGH = 160, 90
PER_RAD = 160.0
"""Pixels of the panorama to a radian: a little finer than the picture's own."""

UP, DOWN = 0.9, 1.2
EYE_M = 2.0
PER_M = 12.0
"""How high the camera is over the water, and pixels of the water's patch to a metre."""


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
    """A camera aboard: where it looks (0 ahead, to starboard), down, and its focal length.

    `spray` is the mean count of drops in a frame; they come in bursts where `burst` is less
    than 1, the share of the time that has any. `glitter` is how many glints the sun makes.
    """

    bearing: float = 0.0
    down: float = 0.10
    focal: float = 0.75
    quality: int = 70
    spray: float = 0.0
    burst: float = 1.0
    glitter: float = 0.0
    noise: float = 1.5
    deck: bool = True


@dataclass(frozen=True, kw_only=True)
class Shutter:
    """How long it is open, and how long it takes from the first row to the last. A frame is
    stamped as the first row's shutter opens."""

    open_s: float = 0.0
    readout_s: float = 0.0


AT_ONCE = Shutter()


def _texture(rng: np.random.Generator, shape: tuple[int, int], scale: float) -> Floats:
    noise = rng.normal(size=shape)
    wide = np.hstack([noise, noise, noise])
    smooth = cv2.GaussianBlur(wide, (0, 0), scale)[:, shape[1] : 2 * shape[1]]
    return smooth / smooth.std()


@lru_cache(maxsize=8)
def _rays(bearing: float, down: float, focal: float) -> Grey:
    """Where each pixel looks, in the boat's axes: right, down, ahead [shape=(HIGH, WIDE, 3)]."""
    x, y = np.meshgrid(np.arange(WIDE) - (WIDE - 1) / 2, np.arange(HIGH) - (HIGH - 1) / 2)
    rays = np.stack([x / (focal * WIDE), y / (focal * WIDE), np.ones_like(x)], axis=-1)
    return np.asarray(rays @ (_yawed(bearing) @ _pitched(-down)).T, dtype=np.float32)


@lru_cache(maxsize=1)
def _deck() -> tuple[NDArray[np.bool_], Grey]:
    """Where a deck with stripes fills the lower corners, and how bright it is."""
    x, y = np.meshgrid(np.arange(WIDE) - (WIDE - 1) / 2, np.arange(HIGH) - (HIGH - 1) / 2)
    where = y > 18 + (x / 9) ** 2 * 0.5
    return where, np.where((x // 4) % 2 == 0, 210, 60).astype(np.float32)


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
        self._sun = float(rng.uniform(0, WIDE))
        self._burst_left = 0

    def frame(
        self, of: Attitude, lens: Lens, t_s: float, shutter: Shutter = AT_ONCE
    ) -> NDArray[np.uint8]:
        """What the camera shows of the time `t_s`, before spray, noise and compression."""
        rows_s = t_s + shutter.open_s / 2 + shutter.readout_s * (np.arange(HIGH) + 0.5) / HIGH
        turns = _turns(*(of.at(name, rows_s) for name in ("yaw", "pitch", "roll")))
        far = np.matmul(_rays(lens.bearing, lens.down, lens.focal), turns.transpose(0, 2, 1))
        right, down, ahead = far[..., 0], far[..., 1], far[..., 2]
        level = np.hypot(right, ahead)
        rows = self.above + np.arctan2(down, level) * np.float32(PER_RAD)
        columns = np.arctan2(right, ahead) * np.float32(PER_RAD)
        columns[columns < 0] += np.float32(2 * math.pi * PER_RAD)
        picture = cv2.remap(
            self.panorama, columns, np.clip(rows, 0, self.panorama.shape[0] - 1),
            cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP,
        )  # fmt: skip
        self._pour(picture, (right, down, ahead, level), of, t_s)
        if lens.deck:
            where, boards = _deck()
            np.copyto(picture, boards, where=where)
        return np.clip(picture, 16, 235).astype(np.uint8)

    def _pour(self, picture: Grey, far: tuple[Grey, ...], of: Attitude, t_s: float) -> None:
        """Water over all that lies below the horizon, as she runs over it."""
        right, down, ahead, level = far
        yaw, run = float(of.at("yaw", t_s)), float(of.at("speed", t_s)) * t_s
        dip = down / level
        below = dip > 0.012
        first = int(np.argmax(np.any(below, axis=1)))
        if not below[first].any():
            return
        part = (slice(first, None), slice(None))
        scale = PER_M * EYE_M / np.maximum(down[part], 0.012 * level[part])
        x = _wrapped(right[part] * scale, PER_M * run * math.sin(yaw))
        y = _wrapped(ahead[part] * scale, PER_M * run * math.cos(yaw) + 9 * t_s)
        water = cv2.remap(self.water, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
        shown = 110 + (water - 110) * np.clip(dip[part] * 5, 0.1, 1)
        np.copyto(picture[part], shown.astype(np.float32), where=below[part])

    def film(
        self,
        of: Attitude,
        lens: Lens,
        times: Floats,
        shown: Floats,
        shutter: Shutter = AT_ONCE,
    ) -> Iterator[SmallFrame]:
        """The frames at times of the day, with the stamps that the footage has."""
        for t_s, stamp in zip(times.tolist(), shown.tolist(), strict=True):
            picture = self.frame(of, lens, t_s, shutter)
            yield SmallFrame(t_s=stamp, luma=self.taken(picture, lens))

    def taken(self, picture: NDArray[np.uint8] | Grey, lens: Lens) -> NDArray[np.uint8]:
        """A picture with glitter, spray, noise and compression."""
        out = picture.astype(np.float32)
        self._glitter(out, lens)
        for _ in range(self._drops(lens)):
            x, y = self.random.uniform(0, WIDE), self.random.uniform(HIGH * 0.3, HIGH)
            cv2.circle(out, (int(x), int(y)), int(self.random.uniform(1, 7)), 230.0, -1)
        out += np.float32(lens.noise) * self.random.standard_normal(out.shape, np.float32)
        made, coded = cv2.imencode(
            ".jpg", np.clip(out, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, lens.quality]
        )
        assert made
        return np.asarray(cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE), dtype=np.uint8)

    def _drops(self, lens: Lens) -> int:
        """How many drops fly through this frame; a burst lasts ten frames or so."""
        if lens.burst >= 1.0:
            return int(self.random.poisson(lens.spray))
        if self._burst_left > 0:
            self._burst_left -= 1
        elif self.random.uniform() < lens.burst / (1 - lens.burst) / 10:
            self._burst_left = int(self.random.uniform(5, 15))
        return int(self.random.poisson(lens.spray / lens.burst)) if self._burst_left else 0

    def _glitter(self, out: Grey, lens: Lens) -> None:
        """The sun on the water below it: glints that last a frame, each a part of a pixel."""
        count = int(self.random.poisson(lens.glitter))
        if not count:
            return
        columns = np.clip(self.random.normal(self._sun, WIDE / 8, count), 0, WIDE - 1).astype(int)
        rows = self.random.integers(round(HIGH * 0.45), HIGH, count)
        part = self.random.uniform(0.2, 1.0, count).astype(np.float32)
        out[rows, columns] += part * np.maximum(250 - out[rows, columns], 0)


def _wrapped(places: Grey, start: float) -> Grey:
    """Places in a patch that repeats every 256 pixels."""
    at = places + np.float32(start % 256)
    return np.asarray(at - 256 * np.floor(at / 256), dtype=np.float32)


def _turns(yaw: Floats, pitch: Floats, roll: Floats) -> Grey:
    """What turns the boat's axes into the world's, a matrix for each row."""
    made = np.broadcast_to(np.eye(3), (yaw.size, 3, 3)).copy()
    for k, (angle, (i, j)) in enumerate(((yaw, (0, 2)), (pitch, (2, 1)), (roll, (1, 0)))):
        one = np.broadcast_to(np.eye(3), made.shape).copy()
        one[:, i, i] = one[:, j, j] = np.cos(angle)
        one[:, i, j], one[:, j, i] = np.sin(angle), -np.sin(angle)
        made = one if k == 0 else made @ one
    return made.astype(np.float32)


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
