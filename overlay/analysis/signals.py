"""What is shown of a channel: a function of log time alone.

A signal is read on a fixed grid of log time, four times a second for most, so that digits
can be read and a paused frame, a preview and a piece of a render all show the same. When
the run passes a mark, the mark's own instant takes the place of the grid's next one: the
number beside the flag and the number on the readout then belong together.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from overlay.analysis.smoothing import Law, fit, law_for
from sync.channel import Channel
from sync.clock import TIME_TOLERANCE_S

GRID_HZ: Mapping[str, float] = MappingProxyType(
    {"engine_speed": 10.0, "fuel_flow": 2.0, "speed": 4.0}
)
"""How often the shown value of a channel may change (design: the look)."""

OTHER_GRID_HZ = 4.0

BLOCK_STEPS = 64
"""Instants of a grid that are read together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """A value to be shown, in SI, and the instant of log time that it is the value of."""

    t_s: float
    value: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Signal:
    """A channel as it is shown.

    `channel` is on UTC with its delay taken out; `marks_s` are the instants, in order, that
    take the place of a grid instant.
    """

    channel: Channel
    law: Law
    grid_hz: float
    marks_s: tuple[float, ...] = ()
    _cache: dict[float, float] = field(default_factory=dict, init=False, repr=False)
    _running: dict[float, list[Sample]] = field(default_factory=dict, init=False, repr=False)

    @property
    def key(self) -> str:
        """The key of its channel."""
        return self.channel.key

    def shown_instant(self, t_s: float) -> float:
        """The instant whose value is shown at a given one.

        ::

            g = floor(t · grid_hz) / grid_hz
            m = last mark not after t
            m if m > g − 1 / grid_hz else g
        """
        grid = self._step(t_s) / self.grid_hz
        passed = bisect_right(self.marks_s, t_s + TIME_TOLERANCE_S)
        if passed and self.marks_s[passed - 1] > grid - 1.0 / self.grid_hz + TIME_TOLERANCE_S:
            return self.marks_s[passed - 1]
        return grid

    def sample(self, t_s: float) -> Sample:
        """What is shown at an instant; the value is NaN where the channel has none."""
        shown = self.shown_instant(t_s)
        if shown not in self._cache:
            if shown in self.marks_s:
                self._cache[shown] = float(fit(self.channel, shown, self.law).values[0])
            else:
                self._fill(self._step(shown))
        return Sample(t_s=shown, value=self._cache[shown])

    def _fill(self, step: int) -> None:
        """Read the channel at a whole block of the grid, which takes hardly longer than once. The
        block follows from the step alone, so that a value is the same to the bit in every render.
        """
        first = step // BLOCK_STEPS * BLOCK_STEPS
        instants = np.arange(first, first + BLOCK_STEPS) / self.grid_hz
        values = fit(self.channel, instants, self.law).values
        self._cache.update(zip(instants.tolist(), values.tolist(), strict=True))

    def greatest(self, start_s: float, t_s: float) -> Sample:
        """The greatest value shown from `start_s` on up to an instant: the one that is held."""
        first, last = self._step(start_s), self._step(t_s)
        running = self._running.setdefault(start_s, [])
        best = running[-1] if running else Sample(t_s=start_s, value=math.nan)
        for step in range(first + len(running), last + 1):
            here = step / self.grid_hz
            marks = self._marks_within(max(here - 1.0 / self.grid_hz, start_s), here)
            best = self._best(best, (*marks, self.shown_instant(here)))
            running.append(best)
        if last < first:
            return Sample(t_s=start_s, value=math.nan)
        return self._best(running[last - first], self._marks_within(last / self.grid_hz, t_s))

    def _step(self, t_s: float) -> int:
        """Which instant of the grid is the last not after a time."""
        return math.floor(t_s * self.grid_hz + TIME_TOLERANCE_S * self.grid_hz)

    def _marks_within(self, start_s: float, stop_s: float) -> tuple[float, ...]:
        return tuple(mark for mark in self.marks_s if start_s <= mark <= stop_s + TIME_TOLERANCE_S)

    def _best(self, best: Sample, instants: tuple[float, ...]) -> Sample:
        for instant in instants:
            here = self.sample(instant)
            if math.isfinite(here.value) and not here.value <= best.value:
                best = here
        return best


def signal_of(
    channel: Channel, channels: Mapping[str, Channel], marks_s: tuple[float, ...] = ()
) -> Signal:
    """The signal of a channel, which is one of a day's, under its law and grid.

    Raises
    ------
    ValueError
        Where the channel still carries its delay: what is shown must be timely.
    """
    if channel.delay_s:
        raise ValueError(f"{channel.key} still has its delay of {channel.delay_s} s")
    return Signal(
        channel=channel,
        law=law_for(channel, channels),
        grid_hz=GRID_HZ.get(channel.name, OTHER_GRID_HZ),
        marks_s=tuple(sorted(marks_s)),
    )
