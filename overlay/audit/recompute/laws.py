"""The laws by which a value at an instant follows from samples, as they are printed.

==========  ==============================================================================
parabola    least-squares parabola through the samples within 0.5 s of t, read at t
line        least-squares line through the samples within 0.2 s of t, read at t
neighbours  straight line between the samples before and after t
aided       A(t) + least-squares line through v − A of the samples within 1.5 s of t, read at
            t, with A the integral of acceleration; the parabola within 0.5 s where acceleration
            has a hole or that line leaves more than 0.1 m/s
==========  ==============================================================================

There is a value where samples stand on both sides of t, where no gap among those of the window is
a hole, and where the window holds two samples more than the polynomial has degrees. Each window is
solved by itself, by orthogonal polynomials; the product solves normal equations for many at once.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from overlay.audit.recompute.recorded import SAME_S, Floats, Recorded

PARABOLA_HALF_S, LINE_HALF_S, AIDED_HALF_S = 0.5, 0.2, 1.5
MISFIT_MPS = 0.1
PUSH_S = 0.5
"""The slope of an aided speed takes acceleration as its mean over so much on either side."""

SLOWEST_PARABOLA_S, SLOWEST_LINE_S, SLOWEST_AID_S = 0.2, 0.1, 0.1
"""What is sampled more slowly than this is read off between its neighbours, or aids nothing."""

SLACK = 1.01
"""A logger's own clock may run slow by so much and its period still count as the round one."""

LEAST_SIZE = 1e-9
"""Samples at too few places for a polynomial leave less than this of it over a window of one."""

MOST_AID_DOUBT_S = 0.025
"""An acceleration whose delay is less sure than this aids nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """Value and slope at an instant; NaN for none. `left` is what the polynomial leaves over."""

    value: float
    slope: float = math.nan
    left: float = math.nan


NOTHING = Reading(value=math.nan)


class Integral:
    """A, the integral of acceleration by trapezia; straight lines between its samples."""

    def __init__(self, ahead: Recorded) -> None:
        self.key = ahead.key
        self.late_sd_s = ahead.late_sd_s
        self._t = ahead.t_s
        steps = np.diff(ahead.t_s)
        means = (ahead.values[:-1] + ahead.values[1:]) / 2
        self._sum = np.append(0.0, np.add.accumulate(means * steps))
        self._wide = np.flatnonzero(steps > ahead.longest_gap_s)

    def __call__(self, t_s: Floats | float) -> Floats:
        """A at any instants; NaN outside the acceleration."""
        return np.asarray(np.interp(t_s, self._t, self._sum, left=np.nan, right=np.nan))

    def whole(self, t_s: float, half_s: float) -> bool:
        """Whether the acceleration reaches beyond a window on both sides and has no hole in it."""
        first = int(np.searchsorted(self._t, t_s - half_s, side="right")) - 1
        last = int(np.searchsorted(self._t, t_s + half_s, side="left"))
        if first < 0 or last >= self._t.size:
            return False
        return not bool(np.any((self._wide >= first) & (self._wide < last)))


class Samples:
    """Times and values, and after which of them there is a hole."""

    def __init__(self, t_s: Floats, values: Floats, longest_gap_s: float) -> None:
        self.t_s = t_s
        self.values = values
        self._holes: list[int] = np.flatnonzero(np.diff(t_s) > longest_gap_s + SAME_S).tolist()

    def broken(self, first: int, last: int) -> bool:
        """Whether a hole lies among those from one place on up to before another."""
        here = bisect_left(self._holes, first)
        return here < len(self._holes) and self._holes[here] < last - 1

    def polynomial(self, t_s: float, half_s: float, degree: int) -> Reading:
        """A least-squares polynomial through the samples about an instant, read at it.

        By polynomials that are orthogonal over the window's own times, counted from the instant,

        ::

            p₀ = 1,  p₁ = x − a₀,  p₂ = (x − a₁) p₁ − b₁,    y ≈ Σ (y·pₖ / pₖ·pₖ) pₖ
        """
        first = int(self.t_s.searchsorted(t_s - half_s - SAME_S))
        last = int(self.t_s.searchsorted(t_s + half_s + SAME_S, side="right"))
        x = (self.t_s[first:last] - t_s) / half_s
        if x.size < degree + 2 or x[0] * half_s > SAME_S or x[-1] * half_s < -SAME_S:
            return NOTHING
        if self.broken(first, last):
            return NOTHING
        y = self.values[first:last]
        before, here = np.zeros(x.size), np.ones(x.size)
        at_before, at, slope_before, slope = 0.0, 1.0, 0.0, 0.0
        size_before, size = 1.0, float(x.size)
        left, value, rise = y, 0.0, 0.0
        for order in range(degree + 1):
            share = float(left @ here) / size
            left = left - share * here
            value, rise = value + share * at, rise + share * slope
            if order == degree:
                break
            a, b = float((x * here) @ here) / size, size / size_before if order else 0.0
            before, here = here, (x - a) * here - b * before
            at_before, at, slope_before, slope = (
                at, -a * at - b * at_before, slope, at - a * slope - b * slope_before,
            )  # fmt: skip
            size_before, size = size, float(here @ here)
            if size <= LEAST_SIZE:
                return NOTHING
        freedom = max(x.size - degree - 1, 1)
        return Reading(
            value=value, slope=rise / half_s, left=math.sqrt(float(left @ left) / freedom)
        )


class Curve:
    """A channel under its law.

    Parameters
    ----------
    channel
        On UTC, timely.
    name
        Of the law.
    aid
        The integral of acceleration, for the law `aided`.
    """

    def __init__(self, channel: Recorded, name: str, aid: Integral | None = None) -> None:
        self.channel = channel
        self.name = name
        self.aid = aid

    @cached_property
    def _left_over(self) -> Samples:
        """Speed less A, where acceleration reaches."""
        assert self.aid is not None
        rest = self.channel.values - self.aid(self.channel.t_s)
        good = np.isfinite(rest)
        return Samples(self.channel.t_s[good], rest[good], self.channel.longest_gap_s)

    def at(self, t_s: float) -> Reading:
        """Value and slope at an instant."""
        if self.name == "neighbours":
            return self._between(t_s)
        if self.name == "line":
            return self._samples.polynomial(t_s, LINE_HALF_S, 1)
        if self.name == "aided":
            found = self._aided(t_s)
            if found is not None:
                return found
        return self._samples.polynomial(t_s, PARABOLA_HALF_S, 2)

    def is_aided(self, t_s: float) -> bool:
        """Whether acceleration has a part in the value at an instant."""
        return self.name == "aided" and self._aided(t_s) is not None

    def values(self, t_s: Floats) -> Floats:
        """Values at many instants."""
        return np.array([self.at(float(t)).value for t in t_s])

    @property
    def alone(self) -> Curve:
        """The same without an aid."""
        return Curve(self.channel, "parabola") if self.name == "aided" else self

    @cached_property
    def _samples(self) -> Samples:
        return Samples(self.channel.t_s, self.channel.values, self.channel.longest_gap_s)

    def parabola_within(self, t_s: float, half_s: float) -> Reading:
        """The parabola through the samples of another window than the law's."""
        return self._samples.polynomial(t_s, half_s, 2)

    def _aided(self, t_s: float) -> Reading | None:
        assert self.aid is not None
        if not self.aid.whole(t_s, AIDED_HALF_S):
            return None
        rest = self._left_over.polynomial(t_s, AIDED_HALF_S, 1)
        if not (math.isfinite(rest.value) and rest.left <= MISFIT_MPS):
            return None
        a0, a1, a2 = self.aid(np.array([t_s - PUSH_S, t_s, t_s + PUSH_S])).tolist()
        push = (a2 - a0) / (2 * PUSH_S)
        return Reading(value=rest.value + a1, slope=rest.slope + push, left=rest.left)

    def _between(self, t_s: float) -> Reading:
        t, values = self.channel.t_s, self.channel.values
        after = int(t.searchsorted(t_s))
        if after < t.size and t[after] == t_s:
            return Reading(value=float(values[after]))
        if after in (0, t.size):
            return NOTHING
        low, high = float(t[after - 1]), float(t[after])
        if high - low > self.channel.longest_gap_s + SAME_S:
            return NOTHING
        rise = float(values[after] - values[after - 1])
        if self.channel.kind.turns:  # the short way round
            rise = math.remainder(rise, math.tau)
        value = float(values[after - 1]) + rise * (t_s - low) / (high - low)
        slope = rise / (high - low)
        return Reading(value=value % math.tau if self.channel.kind.turns else value, slope=slope)


def aid_of(speed: Recorded, channels: Mapping[str, Recorded]) -> Integral | None:
    """The integral that aids a speed; None where the day has no acceleration that may."""
    ahead = channels.get("acceleration")
    if ahead is None or speed.means == "differenced" or ahead.t_s.size < 2:
        return None
    if not (ahead.late_sd_s <= MOST_AID_DOUBT_S and ahead.period_s <= SLOWEST_AID_S):
        return None
    return Integral(ahead)


def curve_of(channel: Recorded, channels: Mapping[str, Recorded]) -> Curve:
    """A channel under the law that is its own."""
    period = channel.period_s / SLACK
    if channel.kind.turns:
        return Curve(channel, "neighbours")
    if channel.kind.quantity == "speed" and period <= SLOWEST_PARABOLA_S:
        aid = aid_of(channel, channels) if channel.name == "speed" else None
        return Curve(channel, "parabola") if aid is None else Curve(channel, "aided", aid)
    if period <= SLOWEST_LINE_S:
        return Curve(channel, "line")
    return Curve(channel, "neighbours")
