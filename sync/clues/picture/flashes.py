"""Flashes in the picture: places that turn bright within a frame or two while the rest does not.

The small copy of each frame is looked at in overlapping cells, in the logarithm of their
brightness, so that a change of exposure moves all cells alike and is taken off as their median.
A cell's jump is its rise over what it was in the frames before; how large it must be follows
from how much this cell and those around it jump anyway, which is what tells a lamp from
glitter, spray and edges that shake. What brightens much of the picture at once is a cut, a
cloud or the camera's own exposure.

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

from sync.log import Floats
from sync.media.small import SmallFrame

CELL_PX = 4
STRIDE_PX = 2
"""Cells of so many pixels of the small copy, so far apart: a thousandth of the picture fills
one (own choice)."""

BLACK = 16.0
"""Added to the luma before its logarithm, so that dark noise counts for little."""

BEFORE = 4
"""Frames before a jump that must all be darker."""

CHUNK = 96
MARGIN = 32
"""Frames that are judged at once, and those on either side that they are judged by."""

LEAST_JUMP = 0.15
"""Least rise of a cell, in the logarithm of its brightness: a sixth (own choice)."""

LEAST_DB = 8.0
LEAST_RATIO = 2.5
"""How far above the jumps that the place makes anyway a flash must be, as a ratio and in dB when
all is counted (own choice, held in
tests/bench/accuracy_sync.py)."""

MOST_SHARE = 0.15
"""Where more of the picture than this changes at once, brighter or darker, it is no lamp."""

FLOOR = 0.012
"""Least that a cell is taken to jump anyway: one level of a bright picture or so."""

STAYS = 2
FLEETING_DB = 12.0
"""A lamp is lit for so many frames more, at half its brightness or above; what is not, such as a
strobe, but also a drop of spray, counts for so much less (own choice)."""

MOST_FLASHES = 300
"""The strongest that are kept of one recording."""

SHUTTER_SHARE = 0.25
"""How much of a frame's time the shutter is taken to be open (common practice in daylight, no
published source)."""

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
        strongest = sorted(self._found, key=lambda one: -one.rise_db)[:MOST_FLASHES]
        return tuple(sorted(strongest, key=lambda one: one.t_s))

    def _judge(self, stop: int) -> None:
        start, self._judged = self._judged, stop
        times = np.array(self._times)
        if times.size < BEFORE + 2:
            return
        for flash in _flashes(times, np.stack(self._cells), self._shape, range(start, stop)):
            if not any(_same(flash, other) for other in self._found[-20:]):
                self._found.append(flash)


def _same(one: Flash, other: Flash) -> bool:
    """Whether two are one flash, whose edges light up a frame apart."""
    near = max(abs(one.across - other.across), abs(one.down - other.down)) < 0.15
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
    jumps = _jumps(level)
    usual = _usual(jumps, shape)
    found = []
    for i in judged:
        if i < BEFORE or i + 1 >= times.size:
            continue
        strong = (jumps[i] > LEAST_JUMP) & (jumps[i] > LEAST_RATIO * usual)
        elsewhere = np.mean(np.abs(changes[i] - middle[i]) > LEAST_JUMP)
        if np.any(strong) and elsewhere <= MOST_SHARE:
            found += _at_frame(times, level, (jumps[i] / usual, strong), shape, i)
    return found


def _jumps(level: Cells) -> Cells:
    """How far each cell rises at each frame over the brightest of those before.

    The first frames have none before them, and do not jump.
    """
    before = level.copy()
    before[BEFORE:] = np.max([level[BEFORE - k : -k] for k in range(1, BEFORE + 1)], axis=0)
    before[:BEFORE] = np.inf
    return np.asarray(level - before, dtype=np.float32)


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
        row, column = divmod(best, shape[1])
        t_s, frame_s = _switched(times, level[:, best], i)
        rise_db = float(20 * np.log10(ratio[best])) - _fleeting_db(level[:, best], i)
        if rise_db < LEAST_DB:
            continue
        found.append(
            Flash(
                t_s=t_s,
                sd_s=frame_s / math.sqrt(12),
                frame_s=frame_s,
                rise_db=rise_db,
                across=(column + 0.5) / shape[1],
                down=(row + 0.5) / shape[0],
                share=mine.size / strong.size,
            )
        )
    return found


def _fleeting_db(level: Cells, i: int) -> float:
    """What it costs a flash that it does not stay."""
    dark = float(level[max(i - BEFORE, 0) : i].max())
    after = level[i : i + STAYS + 1] - dark
    return 0.0 if float(after[1:].min(initial=np.inf)) >= float(after.max()) / 2 else FLEETING_DB


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
        dark_s = (1 - SHUTTER_SHARE) * float(times[i] - times[i - 1])
        return float(times[i]) - dark_s / 2, frame_s
    return float(times[i]) + (1 - part) * SHUTTER_SHARE * frame_s, frame_s
