"""A channel: one quantity over time, with its unit in SI, its clock and its delay.

Its holes stay holes: between two samples further apart than the channel's own limit there is
no value.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from sync.arrays import Floats, read_only
from sync.channel_kinds import CHANNELS, ChannelKind
from sync.clock import TIME_TOLERANCE_S, ClockMap, Span

LEAST_GAP_S = 0.5
"""Shortest gap that may count as a hole, however fast the channel is sampled (design rule)."""

GAP_PERIODS = 3.0
"""A gap counts as a hole from this many median sample periods (design rule)."""

_TURN = 2 * np.pi


def _any_finite(values: Floats) -> bool:
    """Whether any value is finite; mostly the very first is, and the others are not looked at."""
    return values.size > 0 and bool(np.isfinite(values[0]) or np.any(np.isfinite(values)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Channel:
    """One quantity over time.

    Parameters
    ----------
    name
        A key of `CHANNELS`.
    instance
        Which of several like it: engine 0 is the only or the port one, 1 starboard.
    clock
        The clock that `t_s` counts on.
    t_s : [shape=(n,), s]
        Times, strictly increasing.
    values : [shape=(n,), SI]
        Values; NaN where the instrument said that it had none.
    delay_s, delay_sd_s
        By how much the value stands later in the log than it was true, and one standard
        deviation of that. It is a fact about the channel until `timely` takes it out.
    source
        Where it comes from, for a reader: sentence, column or parameter group.
    means
        How it was had: `measured`, `doppler`, or `differenced` from something else.
    max_gap_s
        Longest gap across which a value may be worked out; None for the design rule.
    """

    name: str
    t_s: Floats
    values: Floats
    clock: str
    instance: int = 0
    delay_s: float = 0.0
    delay_sd_s: float = 0.0
    source: str = ""
    means: str = "measured"
    max_gap_s: float | None = None
    _worked_out: dict[str, float] = field(init=False, repr=False, default_factory=dict)

    def __post_init__(self) -> None:
        if self.name not in CHANNELS:
            raise ValueError(f"{self.name!r} is not a channel name")
        t, values = read_only(self.t_s), read_only(self.values)
        if t.ndim != 1 or t.shape != values.shape:
            raise ValueError(f"times {t.shape} and values {values.shape} are not two equal rows")
        if t.size and not np.all(np.isfinite(t)):
            raise ValueError("times must be finite")
        if np.any(np.diff(t) <= 0):
            raise ValueError("times must increase")
        object.__setattr__(self, "t_s", t)
        object.__setattr__(self, "values", values)
        if self.max_gap_s is None:
            held = t[np.isfinite(values)]
            period = float(np.median(np.diff(held))) if held.size > 1 else 0.0
            object.__setattr__(self, "max_gap_s", max(GAP_PERIODS * period, LEAST_GAP_S))

    @property
    def key(self) -> str:
        """The name by which sheets and faceplates call it: `engine_speed`, `engine_speed.1`."""
        return self.name if self.instance == 0 else f"{self.name}.{self.instance}"

    @property
    def kind(self) -> ChannelKind:
        """What a channel of its name measures."""
        return CHANNELS[self.name]

    @property
    def period_s(self) -> float:
        """Median time between two samples that hold a value; NaN for fewer than two."""
        if "period_s" not in self._worked_out:
            t = self.t_s[np.isfinite(self.values)]
            period = float(np.median(np.diff(t))) if t.size > 1 else float("nan")
            self._worked_out["period_s"] = period
        return self._worked_out["period_s"]

    @property
    def resolution(self) -> float:
        """What the last digit of its values is worth, SI, as far as they tell: the least step
        between two of them, where they come back to the same ones again and again. NaN where
        they do not."""
        known = self.values[np.isfinite(self.values)]
        changed = known[1:][np.diff(known) != 0]
        distinct = np.unique(known)
        if 2 * distinct.size > changed.size:
            return float("nan")
        steps = np.diff(distinct)
        # Steps far below the largest value's own float spacing are conversion, not data.
        steps = steps[steps > 1e-9 * max(float(np.nanmax(np.abs(self.values), initial=0)), 1e-9)]
        return float(np.min(steps)) if steps.size else float("nan")

    @property
    def span(self) -> Span | None:
        """From the first value to just after the last; None where there is no value."""
        t = self.t_s[np.isfinite(self.values)]
        if t.size == 0:
            return None
        return Span(start_s=float(t[0]), stop_s=float(np.nextafter(t[-1], np.inf)))

    def holes(self) -> tuple[Span, ...]:
        """The stretches inside the channel's span that have no value."""
        t = self.t_s[np.isfinite(self.values)]
        wide = np.flatnonzero(np.diff(t) > self._limit)
        return tuple(Span(start_s=float(t[i]), stop_s=float(t[i + 1])) for i in wide)

    def broken_in(self, span: Span) -> bool:
        """Whether one of the `holes` has a part in a span; looks at no more than is near it."""
        reach = self._limit
        first, last = np.searchsorted(
            self.t_s, (span.start_s - reach, span.stop_s + reach), side="left"
        )
        t = self.t_s[first:last][np.isfinite(self.values[first:last])]
        # What lies beyond counts as one more sample, just out of reach.
        if _any_finite(self.values[:first][::-1]):
            t = np.concatenate([[min([span.start_s, *t[:1]]) - 2 * reach], t])
        if _any_finite(self.values[last:]):
            t = np.concatenate([t, [max([span.stop_s, *t[-1:]]) + 2 * reach]])
        wide = np.flatnonzero(np.diff(t) > reach)
        return bool(np.any((t[wide] < span.stop_s) & (t[wide + 1] > span.start_s)))

    def at(self, t_s: Floats | float) -> Floats:
        """Straight lines between neighbouring values, NaN outside them and across holes.

        Directions go the short way around; the result of a direction lies in [0, 2π).
        """
        wanted = np.atleast_1d(np.asarray(t_s, dtype=np.float64))
        out = np.full(wanted.shape, np.nan)
        asked = wanted[np.isfinite(wanted)]
        if asked.size == 0:
            return out
        # What lies further off than the longest gap is neighbour to none of them.
        near = slice(
            np.searchsorted(self.t_s, asked.min() - self._limit, side="left"),
            np.searchsorted(self.t_s, asked.max() + self._limit, side="right"),
        )
        good = np.isfinite(self.values[near])
        t, values = self.t_s[near][good], self.values[near][good]
        if t.size == 0:
            return out
        if self.kind.turns:
            values = np.unwrap(values)
        after = np.clip(np.searchsorted(t, wanted, side="left"), 0, t.size - 1)
        before = np.clip(np.searchsorted(t, wanted, side="right") - 1, 0, t.size - 1)
        gap = t[after] - t[before]
        share = np.divide(wanted - t[before], gap, out=np.zeros_like(wanted), where=gap > 0)
        inside = (wanted >= t[0]) & (wanted <= t[-1]) & (gap <= self._limit)
        out[inside] = (values[before] + share * (values[after] - values[before]))[inside]
        return np.mod(out, _TURN) if self.kind.turns else out

    def window(self, t_s: float, half_s: float) -> tuple[Floats, Floats]:
        """The samples with a value within `half_s` of an instant, ends included.

        Returns
        -------
        offsets : [shape=(m,), s]
            Their times less `t_s`.
        values : [shape=(m,), SI]
        """
        start = int(np.searchsorted(self.t_s, t_s - half_s - TIME_TOLERANCE_S, side="left"))
        stop = int(np.searchsorted(self.t_s, t_s + half_s + TIME_TOLERANCE_S, side="right"))
        t, values = self.t_s[start:stop], self.values[start:stop]
        good = np.isfinite(values)
        return t[good] - t_s, values[good]

    def cut(self, span: Span) -> Channel:
        """The samples inside a span."""
        first, last = np.searchsorted(self.t_s, (span.start_s, span.stop_s), side="left")
        return replace(self, t_s=self.t_s[first:last], values=self.values[first:last])

    def on(self, clock_map: ClockMap) -> Channel:
        """The channel on another clock, its delay still a fact about it."""
        if clock_map.from_clock != self.clock:
            raise ValueError(f"{self.key} is on {self.clock!r}, not on {clock_map.from_clock!r}")
        return replace(self, t_s=clock_map.carry(self.t_s), clock=clock_map.to_clock)

    def timely(self) -> Channel:
        """The channel with its delay taken out of its times; the doubt about it stays."""
        return replace(self, t_s=self.t_s - self.delay_s, delay_s=0.0)

    def almost_equal(self, other: Channel, *, t_tol_s: float = 1e-9, tol: float = 1e-9) -> bool:
        """Whether two channels agree in all but rounding."""
        return (
            (self.key, self.clock, self.means) == (other.key, other.clock, other.means)
            and self.t_s.shape == other.t_s.shape
            and bool(np.allclose(self.t_s, other.t_s, rtol=0, atol=t_tol_s))
            and bool(np.allclose(self.values, other.values, rtol=0, atol=tol, equal_nan=True))
            and abs(self.delay_s - other.delay_s) <= t_tol_s
        )

    @property
    def _limit(self) -> float:
        assert self.max_gap_s is not None  # set in __post_init__
        return self.max_gap_s + TIME_TOLERANCE_S
