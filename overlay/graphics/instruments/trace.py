"""The trace of a strip chart: shown values over time, on paper whose columns never move.

Every stroke of the pen is drawn in columns counted from one instant of the run, and strokes are
joined by taking the darker of each pixel, in whatever order. So what is shifted along and drawn
on is, pixel by pixel, what would be drawn afresh.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from overlay.analysis.signals import Sample, Signal
from overlay.figures import Figure
from overlay.graphics import shapes
from overlay.graphics.instruments.scale import Scale
from overlay.graphics.layer import Bytes, Mask
from sync.clock import TIME_TOLERANCE_S, Span
from sync.units import from_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

ROUND = 8
"""Corners of each round end of a stroke."""

PERIODS_APART = 2
"""A mark may take the place of one instant of the grid; neighbours are no further apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """Columns of paper, counted from a whole second of log time.

    `width_px` of them are seen at a time, the instant that is shown in the last one.
    """

    origin_s: float
    second_px: float
    width_px: int

    def x(self, t_s: float) -> float:
        """Where an instant stands on the whole roll."""
        return (t_s - self.origin_s) * self.second_px

    def stop(self, t_s: float) -> int:
        """The column after that of an instant."""
        # What falls on a whole second must not fall short of its column by rounding.
        return math.floor(self.x(t_s) + TIME_TOLERANCE_S * self.second_px) + 1

    def parts(self, stop: int, part_s: float) -> NDArray[np.int64]:
        """Which part of the time scale each column that is seen belongs to, counted on the
        log's own clock; a column belongs where its left edge stands."""
        columns = np.arange(stop - self.width_px, stop)
        elapsed_s = columns / self.second_px + TIME_TOLERANCE_S
        shift_s = math.fmod(self.origin_s, 2 * part_s)
        return np.floor((elapsed_s + shift_s) / part_s).astype(np.int64)


def instants(signal: Signal, after_s: float, last_s: float) -> list[float]:
    """The instants whose values are shown, one after another, in a half-open stretch."""
    first = math.floor(after_s * signal.grid_hz)
    steps = range(first, math.ceil(last_s * signal.grid_hz) + 1)
    grid = [step / signal.grid_hz for step in steps]
    kept = [t_s for t_s in grid if signal.shown_instant(t_s) == t_s]
    return sorted(t_s for t_s in {*kept, *signal.marks_s} if after_s < t_s <= last_s)


class Trace:
    """The ink on the paper, for one instant after another.

    Parameters
    ----------
    signal
        What is drawn: its own samples at the instants at which they are shown.
    height_px, pen_px
        From the low to the high end of the scale, and how broad the pen is. The ink reaches
        half a pen beyond both ends.
    """

    def __init__(
        self,
        signal: Signal,
        *,
        paper: Paper,
        scale: Scale,
        figure: Figure,
        height_px: int,
        pen_px: int,
    ) -> None:
        self._signal = signal
        self._paper = paper
        self._scale = scale
        self._figure = figure
        self._height_px = height_px
        self._pen_px = pen_px
        # Strokes reach this far beyond the last column, and must not lose what is not yet seen.
        self.beyond_px = pen_px + 2
        rows = height_px + 2 * self.beyond_px
        self._ink: Bytes = np.zeros((rows, paper.width_px + self.beyond_px), np.uint8)
        self._drawn: float | None = None

    def ink(self, t_shown_s: float) -> Bytes:
        """The ink in the columns seen at an instant that is shown; `beyond_px` rows more than
        the scale at top and bottom. It holds until the next call."""
        stop = self._paper.stop(t_shown_s)
        after_s = self._follow(t_shown_s, stop)
        reach_s = (PERIODS_APART + 1) / self._signal.grid_hz
        samples = [
            self._signal.sample(t_s) for t_s in instants(self._signal, after_s - reach_s, t_shown_s)
        ]
        for before, here in pairwise([Sample(t_s=after_s, value=math.nan), *samples]):
            if here.t_s > after_s:
                for mask in self._strokes(before, here):
                    self._lay(mask, stop)
        self._drawn = t_shown_s
        return self._ink[:, : self._paper.width_px]

    def _follow(self, t_shown_s: float, stop: int) -> float:
        """Shift the paper along; returns after what instant it has no ink yet."""
        if self._drawn is not None and t_shown_s >= self._drawn:
            shift = stop - self._paper.stop(self._drawn)
            if shift < self._paper.width_px:
                if shift:
                    self._ink[:, :-shift] = self._ink[:, shift:].copy()
                    self._ink[:, -shift:] = 0
                return self._drawn
        self._ink[:] = 0
        left = stop - self._paper.width_px - self.beyond_px
        reach_s = PERIODS_APART / self._signal.grid_hz
        return self._paper.origin_s + left / self._paper.second_px - reach_s

    def _strokes(self, before: Sample, here: Sample) -> Iterator[Mask]:
        """The pen's way from one sample to the next, along the edge where the scale ends; a dot
        where there was no value before, nothing where there is none now."""
        if not math.isfinite(here.value):
            return
        if not math.isfinite(before.value) or self._broken(before, here):
            before = here
        for start, end in pairwise(self._way(before, here)):
            yield _stroke(start, end, self._pen_px)

    def _broken(self, before: Sample, here: Sample) -> bool:
        return self._signal.channel.broken_in(Span(start_s=before.t_s, stop_s=here.t_s))

    def _way(self, before: Sample, here: Sample) -> list[tuple[float, float]]:
        """Corners of the pen's way, x on the whole roll and y from the top of the scale."""
        x0, x1 = self._paper.x(before.t_s), self._paper.x(here.t_s)
        v0, v1 = (
            from_si(one.value, self._figure.unit, self._figure.quantity) for one in (before, here)
        )
        ends = (self._scale.low, self._scale.high)
        cuts = sorted((end - v0) / (v1 - v0) for end in ends if (v0 - end) * (v1 - end) < 0)
        return [(x0 + cut * (x1 - x0), self.y(v0 + cut * (v1 - v0))) for cut in (0.0, *cuts, 1.0)]

    def y(self, value: float) -> float:
        """How far below the high end of the scale a value stands."""
        return (1.0 - self._scale.along(value)) * self._height_px

    def _lay(self, mask: Mask, stop: int) -> None:
        """Put the ink of a stroke on the paper."""
        left = mask.left - (stop - self._paper.width_px)
        top = mask.top + self.beyond_px
        height, width = mask.alpha.shape
        first, last = max(left, 0), min(left + width, self._ink.shape[1])
        if first < last:
            place = self._ink[top : top + height, first:last]
            np.maximum(place, mask.alpha[:, first - left : last - left], out=place)


def _stroke(start: tuple[float, float], end: tuple[float, float], pen_px: float) -> Mask:
    """A stroke of a round pen; a dot where it does not move."""
    turn = math.atan2(end[1] - start[1], end[0] - start[0])
    half = [math.pi / 2 + math.pi * index / (ROUND - 1) for index in range(ROUND)]
    corners = [
        (
            x + pen_px / 2 * math.cos(turn + back + angle),
            y + pen_px / 2 * math.sin(turn + back + angle),
        )
        for (x, y), back in ((start, 0.0), (end, math.pi))
        for angle in half
    ]
    return shapes.polygon(corners)
