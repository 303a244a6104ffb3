"""Flashes in the picture: places that turn bright within a frame or two, and stay so for a while.

The small copy of each frame is looked at in overlapping cells, in the logarithm of their
brightness, so that a change of exposure moves all cells alike and is taken off as their median.
A cell's jump is how far the darkest of the frames that follow stands above the brightest of
those before: a drop of spray or a glint is gone with the next frame, and makes none. How large a
jump must be follows from how much this cell and those around it jump anyway, which is what tells
a lamp from edges that shake. What darkens much of the picture too is a cut or the camera's own
exposure.

A frame is taken to show the instant of its time stamp and what follows while its shutter is
open. The switch lies between the last dark frame and the first bright one; one that is half
bright was exposed while it happened.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sync.arrays import Floats
from sync.clues.picture.shutter import OPEN_SHARE
from sync.media.small import SmallFrame

CELL_PX = 4
STRIDE_PX = 2
"""Cells of so many pixels of the small copy, so far apart: a thousandth of the picture fills
one (own choice)."""

BLACK = 16.0
"""Added to the luma before its logarithm, so that dark noise counts for little."""

BEFORE_S, STAYS_S = 0.12, 0.06
"""How long before a jump all frames must be darker, and for how long after it brighter: whoever
lights a lamp keeps it lit for a tenth of a second or more (own choice)."""

CHUNK = 96
MARGIN = 32
"""Frames that are judged at once, and those on either side that they are judged by."""

LEAST_JUMP, CHANGE = 0.09, 0.15
"""Least rise of a cell that flashes, in the logarithm of its brightness: a lamp against the sky is
no brighter; and what counts as change of the picture as a whole (own choice)."""

TWINS = 0.1
"""How near to each other two flashes of one moment are one, as a share of the picture's sides."""

LEAST_DB = 8.0
LEAST_RATIO = 2.5
"""How far above the jumps that the place makes anyway a flash must be, as a ratio and in dB when
all is counted (own choice, held in
tests/bench/accuracy_sync.py)."""

MOST_BRIGHTER = 0.45
DARKER, MOST_DARKER = 0.1, 0.3
"""Where more of the picture than this changes at once, it is no lamp: one that is held up to the
camera has a halo over much of the picture, and darkens nothing. A boat that turns does: twice
what the camera's motion darkens as a rule is allowed, between these bounds."""

FLOOR = 0.012
"""Least that a cell is taken to jump anyway: one level of a bright picture or so."""

MOST_FLASHES = 300
"""The strongest that are kept of every minute."""

Cells = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Flash:
    """A place in the picture that turned bright.

    Parameters
    ----------
    t_s, sd_s
        When, on the footage clock, with one standard deviation: that of an instant somewhere
        within a frame's time.
    frame_s
        How long a frame is shown there.
    rise_db
        How far it stands above what the place does anyway, 20 log10 of the ratio.
    across, down
        Where, as shares of the picture's width and height.
    share
        How much of the picture it is.
    """

    t_s: float
    sd_s: float
    frame_s: float
    rise_db: float
    across: float
    down: float
    share: float


def find_flashes(frames: Iterable[SmallFrame]) -> tuple[Flash, ...]:
    """All flashes of a recording, in the order of time."""
    finder = FlashFinder()
    for frame in frames:
        finder.add(frame)
    return finder.flashes()


class FlashFinder:
    """Looks for flashes in frames that come one by one, and keeps a few seconds of them."""

    def __init__(self) -> None:
        self._times: list[float] = []
        self._cells: list[Cells] = []
        self._shape = (0, 0)
        self._judged = 0
        self._found: list[Flash] = []

    def add(self, frame: SmallFrame) -> None:
        """Look at one more frame."""
        cells = _cells(frame.luma)
        self._shape = cells.shape
        self._times.append(frame.t_s)
        self._cells.append(cells.ravel())
        if len(self._cells) - self._judged >= CHUNK + MARGIN:
            self._judge(self._judged + CHUNK)
            keep = max(self._judged - MARGIN, 0)
            del self._times[:keep], self._cells[:keep]
            self._judged -= keep

    def flashes(self) -> tuple[Flash, ...]:
        """What was found, once all frames have been seen."""
        if self._judged < len(self._cells):
            self._judge(len(self._cells))
        minutes: dict[int, list[Flash]] = {}
        for flash in sorted(self._found, key=lambda one: -one.rise_db):
            mine = minutes.setdefault(int(flash.t_s // 60), [])
            if len(mine) < MOST_FLASHES:
                mine.append(flash)
        return tuple(sorted((f for m in minutes.values() for f in m), key=lambda one: one.t_s))

    def _judge(self, stop: int) -> None:
        start, self._judged = self._judged, stop
        times = np.array(self._times)
        if times.size < 4:
            return
        for flash in _flashes(times, np.stack(self._cells), self._shape, range(start, stop)):
            twins = [k for k, other in enumerate(self._found[-20:]) if _same(flash, other)]
            if not any(self._found[-20:][k].rise_db >= flash.rise_db for k in twins):
                kept = [one for k, one in enumerate(self._found[-20:]) if k not in twins]
                self._found[-20:] = [*kept, flash]


def _same(one: Flash, other: Flash) -> bool:
    """Whether two are one flash, whose edges light up a frame apart."""
    near = max(abs(one.across - other.across), abs(one.down - other.down)) < TWINS
    return near and abs(one.t_s - other.t_s) < 2.5 * one.frame_s


def _cells(luma: NDArray[np.uint8]) -> Cells:
    """The logarithm of the mean brightness of overlapping cells [shape=(rows, columns)]."""
    import cv2

    mean = cv2.boxFilter(luma, cv2.CV_32F, (CELL_PX, CELL_PX))
    part = np.asarray(mean[CELL_PX // 2 :: STRIDE_PX, CELL_PX // 2 :: STRIDE_PX], np.float32)
    return np.asarray(np.log(part + np.float32(BLACK)), dtype=np.float32)


def _flashes(times: Floats, cells: Cells, shape: tuple[int, int], judged: range) -> list[Flash]:
    """Flashes among some frames, judged by these and those around them."""
    changes = np.diff(cells, axis=0, prepend=cells[:1])
    middle = np.median(changes[:, ::3], axis=1, keepdims=True)
    level = cells - np.cumsum(middle, axis=0, dtype=np.float32)
    jumps = _jumps(level, float(np.median(np.diff(times))))
    usual = _usual(jumps, shape)
    darker = np.mean(changes - middle < -CHANGE, axis=1)
    most_darker = np.clip(2 * np.median(darker), DARKER, MOST_DARKER)
    found = []
    for i in judged:
        strong = (jumps[i] > LEAST_JUMP) & (jumps[i] > LEAST_RATIO * usual)
        brighter = np.mean(changes[i] - middle[i] > CHANGE)
        if np.any(strong) and brighter <= MOST_BRIGHTER and darker[i] <= most_darker:
            found += _at_frame(times, level, (jumps[i] / usual, strong), shape, i)
    return found


def _jumps(level: Cells, frame_s: float) -> Cells:
    """How far each cell rises at each frame and stays over the brightest of those before.

    The first frames have none before them and the last none after, and do not jump.
    """
    count = len(level)
    before, stays = (max(round(s / frame_s), 1) for s in (BEFORE_S, STAYS_S))
    jumps = np.full_like(level, -np.inf)
    if count <= before + stays:
        return jumps
    high = np.max([level[before - k : count - stays - k] for k in range(1, before + 1)], axis=0)
    low = np.min([level[before + k : count - stays + k] for k in range(stays + 1)], axis=0)
    jumps[before : count - stays] = low - high
    return jumps


def _usual(jumps: Cells, shape: tuple[int, int]) -> Cells:
    """What each place does anyway: the larger jumps of the cell, and those around it."""
    import cv2

    changes = np.where(np.isfinite(jumps), jumps, 0.0)
    ranks = np.sort(np.maximum(changes, 0.0), axis=0)
    own = ranks[int(0.90 * (len(ranks) - 1))].reshape(shape)
    high = ranks[int(0.97 * (len(ranks) - 1))].reshape(shape).astype(np.float32)
    around = cv2.medianBlur(cv2.copyMakeBorder(high, 2, 2, 2, 2, cv2.BORDER_REFLECT), 5)[2:-2, 2:-2]
    wide = cv2.blur(high, (9, 9), borderType=cv2.BORDER_REFLECT)
    return np.asarray(np.maximum.reduce([own, around, wide / 2]).ravel() + FLOOR, np.float32)


def _at_frame(
    times: Floats,
    level: Cells,
    judged: tuple[Cells, NDArray[np.bool_]],
    shape: tuple[int, int],
    i: int,
) -> list[Flash]:
    """The places that flash at one frame, each once."""
    import cv2

    ratio, strong = judged
    count, labels = cv2.connectedComponents(strong.reshape(shape).astype(np.uint8))
    found = []
    for label in range(1, count):
        mine = np.flatnonzero(labels.ravel() == label)
        best = int(mine[np.argmax(ratio[mine])])
        rise_db = float(20 * np.log10(ratio[best]))
        if rise_db < LEAST_DB:
            continue
        t_s, frame_s = _switched(times, level[:, best], i)
        rows, columns = np.divmod(mine, shape[1])
        found.append(
            Flash(
                t_s=t_s,
                sd_s=frame_s / math.sqrt(12),
                frame_s=frame_s,
                rise_db=rise_db,
                across=(float(np.average(columns, weights=ratio[mine])) + 0.5) / shape[1],
                down=(float(np.average(rows, weights=ratio[mine])) + 0.5) / shape[0],
                share=mine.size / strong.size,
            )
        )
    return found


def _switched(times: Floats, level: Cells, i: int) -> tuple[float, float]:
    """When a cell that jumps at a frame was lit, and how long that frame is shown.

    ::

        full at once:   t = t_i - (frame - shutter) / 2
        in part, p:     t = t_i + (1 - p) shutter
    """
    frame_s = float(min(times[i] - times[i - 1], times[i + 1] - times[i]))
    dark, first, full = level[i - 1], level[i], max(level[i], level[i + 1])
    light = np.exp(np.array([dark, first, full], dtype=np.float64))
    part = float((light[1] - light[0]) / max(light[2] - light[0], 1e-9))
    if part > 0.9:
        dark_s = (1 - OPEN_SHARE) * float(times[i] - times[i - 1])
        return float(times[i]) - dark_s / 2, frame_s
    return float(times[i]) + (1 - part) * OPEN_SHARE * frame_s, frame_s
