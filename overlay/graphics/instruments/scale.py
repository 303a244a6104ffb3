"""Scales of instruments: round numbers, and how far along a value stands."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from overlay.graphics.instruments.bench import Bench
from sync.units import from_si

_ROUND = (1.0, 2.0, 2.5, 5.0)
_MOST_PARTS = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A scale in the unit that its values are shown in.

    `part` is the worth of one of its parts; `low` and `high` are multiples of it.
    """

    low: float
    high: float
    part: float

    @property
    def edges(self) -> tuple[float, ...]:
        """The ends of all parts, in order."""
        count = round((self.high - self.low) / self.part)
        return tuple(self.low + self.part * index for index in range(count + 1))

    def along(self, value: float) -> float:
        """How far along the scale a value stands, from 0 to 1; beyond an end, at that end."""
        return min(1.0, max(0.0, (value - self.low) / (self.high - self.low)))


def round_part(span: float, most_parts: int = _MOST_PARTS) -> float:
    """The smallest round number of which a span has no more than so many parts."""
    power = 10.0 ** math.floor(math.log10(span / most_parts))
    for factor in (*_ROUND, 10.0):
        if span / (factor * power) <= most_parts + 1e-9:
            return factor * power
    raise AssertionError("a span has at most ten parts of the next power of ten")


def scale_over(low: float, high: float) -> Scale:
    """A scale with round ends that holds two values."""
    part = round_part(max(high - low, 1e-9))
    return Scale(
        low=math.floor(low / part + 1e-9) * part,
        high=math.ceil(high / part - 1e-9) * part,
        part=part,
    )


def scale_for(bench: Bench, headroom: float = 1.08) -> Scale:
    """The scale for a channel: what the faceplate says, else with room above the rated band,
    else over all that the channel ever had."""
    written = bench.options["scale"]
    if written is not None:
        return scale_over(written[0], written[1])
    how = bench.how
    band = bench.subject.band(bench.channel)
    if band is not None:
        return scale_over(0.0, from_si(band[1], how.unit, how.quantity) * headroom)
    values = np.array([]) if bench.signal is None else bench.signal.channel.values
    finite = values[np.isfinite(values)]
    if not finite.size:
        return scale_over(0.0, abs(how.greatest))
    least, most = (
        from_si(float(end), how.unit, how.quantity) * headroom
        for end in (finite.min(), finite.max())
    )
    return scale_over(min(0.0, least), max(most, float(how.step)))
