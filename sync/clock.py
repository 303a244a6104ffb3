"""Spans of time and the one thing that carries a time from one clock to another.

Log time is float64 seconds on the log's own clock. A clock named `UTC` counts seconds since
1970-01-01T00:00:00Z without leap seconds; a float64 resolves it to about a quarter of a
microsecond. Footage time is an integer presentation time stamp times its time base, and
becomes seconds only on its way through a `ClockMap`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC as _UTC
from datetime import datetime
from typing import TYPE_CHECKING, overload

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

UTC = "utc"
"""Name of the clock on which all others meet."""

TIME_TOLERANCE_S = 1e-6
"""Two instants nearer than this are the same: four times the step of a float64 UTC time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A stretch of time on one clock, its end left out: start ≤ t < stop."""

    start_s: float
    stop_s: float

    def __post_init__(self) -> None:
        if not self.stop_s >= self.start_s:
            raise ValueError(f"a span cannot end ({self.stop_s}) before it starts ({self.start_s})")

    @property
    def length_s(self) -> float:
        """How long it is."""
        return self.stop_s - self.start_s

    def holds(self, t_s: float) -> bool:
        """Whether an instant lies in the span."""
        return self.start_s <= t_s < self.stop_s

    def overlap(self, other: Span) -> Span | None:
        """The stretch that both spans share, or None where they share nothing."""
        start, stop = max(self.start_s, other.start_s), min(self.stop_s, other.stop_s)
        return Span(start_s=start, stop_s=stop) if start < stop else None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockMap:
    """The straight line from one clock to another.

    ::

        t_to = offset_s + rate * t_from
    """

    from_clock: str
    to_clock: str
    offset_s: float
    rate: float = 1.0

    def __post_init__(self) -> None:
        if not self.rate > 0:
            raise ValueError(f"a clock cannot run at a rate of {self.rate}")

    @overload
    def carry(self, t_from_s: float) -> float: ...
    @overload
    def carry(self, t_from_s: NDArray[np.float64]) -> NDArray[np.float64]: ...
    def carry(self, t_from_s: float | NDArray[np.float64]) -> float | NDArray[np.float64]:
        """An instant, or an array of them, on the other clock."""
        return self.offset_s + self.rate * t_from_s

    def inverse(self) -> ClockMap:
        """The same line, read the other way."""
        return ClockMap(
            from_clock=self.to_clock,
            to_clock=self.from_clock,
            offset_s=-self.offset_s / self.rate,
            rate=1.0 / self.rate,
        )

    def then(self, after: ClockMap) -> ClockMap:
        """The map followed by another that starts on the clock where this one ends."""
        if self.to_clock != after.from_clock:
            raise ValueError(f"a map to {self.to_clock!r} cannot go on from {after.from_clock!r}")
        return ClockMap(
            from_clock=self.from_clock,
            to_clock=after.to_clock,
            offset_s=after.offset_s + after.rate * self.offset_s,
            rate=after.rate * self.rate,
        )


def utc_text(t_utc_s: float, digits: int = 3) -> str:
    """An instant as ISO 8601 with a Z, to a number of decimals of a second."""
    scale = 10**digits
    ticks = round(t_utc_s * scale)
    whole, part = divmod(ticks, scale)
    text = datetime.fromtimestamp(whole, tz=_UTC).strftime("%Y-%m-%dT%H:%M:%S")
    return f"{text}.{part:0{digits}d}Z" if digits else f"{text}Z"


def utc_seconds(instant: datetime) -> float:
    """Seconds since 1970 of a time that knows its zone.

    Raises
    ------
    ValueError
        Where the time has no zone: it could be anything within a day.
    """
    if instant.tzinfo is None:
        raise ValueError(f"{instant.isoformat()} has no time zone")
    return instant.timestamp()
