"""When each frame of a footage file is shown.

Footage time is an integer presentation time stamp times a `Fraction`; a frame number is an
index into this list and never a time, since variable frame rate is the ordinary case.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sync.clock import TIME_TOLERANCE_S, Span
from sync.errors import FootageError

Pts = NDArray[np.int64]

CUT_OFF = "the file is cut off; what comes before the cut is used"
"""The warning of a file that breaks off."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrameTimes:
    """When each frame of a footage file is shown.

    Parameters
    ----------
    path
        The footage.
    pts : [shape=(n,), time_base]
        Time stamps in the order of showing, strictly increasing, read-only.
    key : [shape=(n,)]
        Which frames can be decoded without any other.
    stop_pts
        Where the last frame ends.
    time_base
        Seconds in one tick, exactly.
    warnings
        What was odd: a file that was cut off, time stamps that had to be left out.
    """

    path: Path
    pts: Pts
    key: NDArray[np.bool_]
    stop_pts: int
    time_base: Fraction
    warnings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for name, values in (("pts", self.pts.astype(np.int64)), ("key", self.key.astype(bool))):
            values.setflags(write=False)
            object.__setattr__(self, name, values)

    def __len__(self) -> int:
        return len(self.pts)

    @property
    def span(self) -> Span:
        """From the first frame to the end of the last, on the footage clock."""
        return Span(start_s=self.time_s(0), stop_s=float(self.stop_pts * self.time_base))

    def time_s(self, index: int) -> float:
        """When one frame is shown, correctly rounded."""
        return float(int(self.pts[index]) * self.time_base)

    def seconds(self) -> NDArray[np.float64]:
        """When every frame is shown [shape=(n,), s], on the footage clock."""
        tick = self.time_base
        ticks: NDArray[np.float64] = self.pts.astype(np.float64)
        return ticks * tick.numerator / tick.denominator

    def index_at(self, t_s: float) -> int:
        """The frame on the screen at an instant of the footage clock.

        Raises
        ------
        FootageError
            Where the instant lies before the first frame or after the last.
        """
        ticks = math.floor(Fraction(t_s + TIME_TOLERANCE_S) / self.time_base)
        index = int(np.searchsorted(self.pts, ticks, side="right")) - 1
        if index < 0 or ticks >= self.stop_pts:
            raise FootageError(
                f"has no frame at {t_s:.3f} s: it runs from {self.span.start_s:.3f} s"
                f" to {self.span.stop_s:.3f} s",
                path=self.path,
                advice="name an instant inside it",
            )
        return index

    def nearest(self, t_s: float) -> int:
        """The frame whose time stamp lies nearest to an instant; of two, the earlier."""
        ticks = Fraction(t_s) / self.time_base
        after = int(np.searchsorted(self.pts, math.ceil(ticks)))
        if after == 0 or after == len(self.pts):
            return min(after, len(self.pts) - 1)
        before_is_nearer = ticks - int(self.pts[after - 1]) <= int(self.pts[after]) - ticks
        return after - 1 if before_is_nearer else after

    def within(self, span: Span) -> range:
        """The frames whose time stamps lie in a span: start ≤ t < stop."""
        times = self.seconds()
        start = int(np.searchsorted(times, span.start_s - TIME_TOLERANCE_S))
        stop = int(np.searchsorted(times, span.stop_s - TIME_TOLERANCE_S))
        return range(start, max(start, stop))

    def duration_pts(self, index: int) -> int:
        """How long one frame is shown, in ticks."""
        last = index == len(self.pts) - 1
        end = self.stop_pts if last else int(self.pts[index + 1])
        return end - int(self.pts[index])
