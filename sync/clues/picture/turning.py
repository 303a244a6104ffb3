"""How the picture turns from frame to frame: across, down, and about its middle.

Two frames are laid over each other by a shift and a turn that leave the least difference,
block by block. A block without texture, or with an edge along one way only, counts for what
it shows and no more. Blocks that do not follow are counted down: spray, water near the boat,
people. So are blocks that never move, which are the boat itself, and the lower rows, where
water is near; what the camera's turning moves alike is the far scene.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sync.arrays import Floats, read_only
from sync.media.small import SmallFrame

BLOCK_PX = 8
"""Side of a block of the small copy."""

ROUNDS = 4
"""Fits of one pair of frames, each from where the one before put it."""

LEAST_APART_S = 0.055
"""Frames nearer than this to the last one that was measured are passed over: a boat turns
slowly, and ten to eighteen looks a second show all of it."""

LEAST_LIKENESS = 0.4
"""Least correlation of two frames laid over each other; less is a cut, or a lens under water."""

NOISE_VAR = 0.3
"""Least variance of a block's difference, in grey levels squared: noise and compression."""

STILL_FRAMES = 25.0
"""Measured frames over which the running mean forgets, by which what never moves is known, and over
which a block that does not follow is remembered."""

UPPER_SHARE = 0.4
LOWER_WEIGHT = 0.03
"""Down to this share of the picture's height all rows count in full, the lowest so much."""

Grey = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Turning:
    """How far the picture has turned since the frame that was measured before.

    Parameters
    ----------
    t_s : [shape=(n,), s]
        Time stamps of the measured frames on the footage clock.
    steps : [shape=(n, 3)]
        What moved the scene: to the right and down, as shares of the picture's width, and
        clockwise in radians. NaN where two frames have nothing in common, and at the first.
    frame_s
        How long a frame of the footage is shown, as a rule: not all of them are measured.
    """

    t_s: Floats
    steps: Floats
    frame_s: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "t_s", read_only(self.t_s))
        object.__setattr__(self, "steps", read_only(self.steps))


def turning_of(frames: Iterable[SmallFrame]) -> Turning:
    """The turning of a whole recording."""
    meter = TurnMeter()
    for frame in frames:
        meter.add(frame)
    return meter.turning()


class TurnMeter:
    """Measures frames that come one by one; keeps the last one and a few numbers of each."""

    def __init__(self) -> None:
        self._times: list[float] = []
        self._lengths: list[float] = []
        self._before = math.nan
        self._steps: list[Floats] = []
        self._last: Grey | None = None
        self._mean: Grey | None = None
        self._grid: _Grid | None = None

    def add(self, frame: SmallFrame) -> None:
        """Measure one more frame against the last one, if enough time has passed."""
        import cv2

        self._lengths.append(frame.t_s - self._before)
        self._before = frame.t_s
        if self._times and frame.t_s - self._times[-1] < LEAST_APART_S:
            return
        grey = np.asarray(cv2.GaussianBlur(frame.luma, (3, 3), 0), dtype=np.float32)
        self._times.append(frame.t_s)
        if self._last is None or self._mean is None or self._grid is None:
            self._grid, self._mean = _Grid(grey.shape), grey.copy()
            self._steps.append(np.full(3, np.nan))
        elif frame.stand_in:
            # Nothing has moved on the screen; the next frame shows what has meanwhile.
            self._steps.append(np.zeros(3))
            return
        else:
            self._steps.append(self._grid.step(self._last, grey, self._mean))
            cv2.accumulateWeighted(grey, self._mean, 1 / STILL_FRAMES)
        self._last = grey

    def turning(self) -> Turning:
        """What was measured, once all frames have been seen."""
        steps = np.stack(self._steps) if self._steps else np.empty((0, 3))
        frame_s = float(np.median(self._lengths[1:])) if len(self._lengths) > 1 else math.nan
        return Turning(t_s=np.array(self._times), steps=steps, frame_s=frame_s)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Texture:
    """A frame's slopes, and by block the means of them and of their products."""

    gx: Grey
    gy: Grey
    sx: Floats
    sy: Floats
    xx: Floats
    xy: Floats
    yy: Floats


class _Grid:
    """The blocks of a picture of one size: their places, and how much their rows count."""

    def __init__(self, shape: tuple[int, ...]) -> None:
        self._high, self._wide = int(shape[0]), int(shape[1])
        self._blocks = (max(self._wide // BLOCK_PX, 2), max(self._high // BLOCK_PX, 2))
        columns, rows = self._blocks
        # Whole pixels to a block; what is left over on the right and below is left out.
        self._used = (self._high // rows * rows, self._wide // columns * columns)
        right = (np.arange(columns) + 0.5) * (self._wide // columns) - self._wide / 2
        down = (np.arange(rows) + 0.5) * (self._high // rows) / self._high
        x, y = np.meshgrid(right, (down - 0.5) * self._high)
        self._x, self._y = x.ravel(), y.ravel()
        lower = np.clip((down - UPPER_SHARE) / (1 - UPPER_SHARE), 0, 1)
        self._rows = np.repeat(1 - (1 - LOWER_WEIGHT) * lower, columns)
        self._habit = np.full(self._rows.size, NOISE_VAR)
        self._left = self._habit

    def step(self, last: Grey, grey: Grey, mean: Grey) -> Floats:
        """Shift and turn from one frame to the next; NaN where they are not alike."""
        texture = self._texture(grey)
        weights = self._rows * self._moving(texture, mean)
        found = self._guess(last, grey)
        laid = self._laid(last, found)
        for _ in range(ROUNDS):
            change = self._fitted(laid, grey, texture, weights)
            found = found + change
            laid = self._laid(last, found)
            if np.max(np.abs(change[:2])) < 0.02 and abs(change[2]) < 2e-4:
                break
        if not np.all(np.isfinite(found)) or _likeness(laid, grey) < LEAST_LIKENESS:
            return np.full(3, np.nan)
        self._habit = self._habit + (np.maximum(self._left, 0.0) - self._habit) / STILL_FRAMES
        return np.asarray(found / np.array([self._wide, self._wide, 1.0]))

    def _guess(self, last: Grey, grey: Grey) -> Floats:
        """The shift of a half-size copy by phase correlation, where it is large and clear."""
        import cv2

        size = (max(self._wide // 2, 16), max(self._high // 2, 16))
        top = max(round(size[1] * UPPER_SHARE), 8)
        first, second = (
            cv2.resize(one, size, interpolation=cv2.INTER_AREA)[:top] for one in (last, grey)
        )
        window = cv2.createHanningWindow((size[0], top), cv2.CV_32F)
        (x, y), response = cv2.phaseCorrelate(first, second, window)
        if response < 0.15 or max(abs(x), abs(y)) < 1.0:
            return np.zeros(3)
        return np.array([x * self._wide / size[0], y * self._high / size[1], 0.0])

    def _laid(self, last: Grey, found: Floats) -> Grey:
        """The frame before, moved as found."""
        import cv2

        if not np.any(found):
            return last
        c, s = np.cos(found[2]), np.sin(found[2])
        x, y = (self._wide - 1) / 2, (self._high - 1) / 2
        turn = np.array(
            [[c, -s, x - c * x + s * y + found[0]], [s, c, y - s * x - c * y + found[1]]]
        )
        size = (self._wide, self._high)
        moved = cv2.warpAffine(
            last, turn, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        return np.asarray(moved, dtype=np.float32)

    def _means(self, *images: Grey) -> Floats:
        """Means over each block [shape=(images, blocks)]."""
        import cv2

        high, wide = self._used
        return np.stack(
            [
                cv2.resize(i[:high, :wide], self._blocks, interpolation=cv2.INTER_AREA).ravel()
                for i in images
            ]
        ).astype(np.float64)

    def _texture(self, grey: Grey) -> _Texture:
        gx, gy = _slopes(grey)
        sx, sy, xx, xy, yy = self._means(gx, gy, gx * gx, gx * gy, gy * gy)
        return _Texture(
            gx=gx, gy=gy, sx=sx, sy=sy, xx=xx - sx * sx, xy=xy - sx * sy, yy=yy - sy * sy
        )

    def _moving(self, texture: _Texture, mean: Grey) -> Floats:
        """How little of each block's texture stands still in the running mean [0 to 1]."""
        mx, my = _slopes(mean)
        (still,) = self._means(mx * texture.gx + my * texture.gy)
        mine = texture.xx + texture.yy + texture.sx**2 + texture.sy**2
        share = np.clip(still / np.maximum(mine, 1e-6), 0, 1)
        return np.asarray((1 - share) ** 2 + 0.01)

    def _fitted(self, laid: Grey, grey: Grey, texture: _Texture, weights: Floats) -> Floats:
        """One more shift and turn by least squares over the blocks.

        ::

            laid(x) = grey(x + u),  u = (dx - a y, dy + a x):   laid - grey = ∇grey · u

        Each block counts by its texture and by how well it follows, now and as a rule. A block's
        own change of light is no motion.
        """
        x, y, xx, xy, yy = self._x, self._y, texture.xx, texture.xy, texture.yy
        gt = laid - grey
        middle, xt, yt, tt = self._means(gt, texture.gx * gt, texture.gy * gt, gt * gt)
        xt, yt, tt = xt - texture.sx * middle, yt - texture.sy * middle, tt - middle**2
        turn_x, turn_y = xy * x - xx * y, yy * x - xy * y
        rows = np.array([xx, xy, turn_x, xy, yy, turn_y, turn_x, turn_y, turn_y * x - turn_x * y])
        right = np.array([xt, yt, yt * x - xt * y])
        found, left = np.zeros(3), tt
        for _ in range(3):
            trust = weights / (NOISE_VAR + np.maximum(left, 0.0) + self._habit) ** 1.5
            gram = (rows @ trust).reshape(3, 3)
            gram[np.diag_indices(3)] *= 1 + 1e-6
            gram[np.diag_indices(3)] += 1e-9
            found = np.linalg.solve(gram, right @ trust)
            ux, uy = found[0] - found[2] * y, found[1] + found[2] * x
            left = tt - 2 * (ux * xt + uy * yt) + ux * ux * xx + 2 * ux * uy * xy + uy * uy * yy
        self._left = left
        return found


def _likeness(one: Grey, other: Grey) -> float:
    """The correlation of two pictures."""
    first, second = one - one.mean(), other - other.mean()
    size = float(np.vdot(first, first)) * float(np.vdot(second, second))
    return float(np.vdot(first, second)) / math.sqrt(max(size, 1e-9))


def _slopes(grey: Grey) -> tuple[Grey, Grey]:
    """The change of brightness across and down, per pixel."""
    import cv2

    scale = 1 / 32
    return (
        np.asarray(cv2.Scharr(grey, cv2.CV_32F, 1, 0, scale=scale), dtype=np.float32),
        np.asarray(cv2.Scharr(grey, cv2.CV_32F, 0, 1, scale=scale), dtype=np.float32),
    )
