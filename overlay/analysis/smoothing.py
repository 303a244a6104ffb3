"""The laws by which a value at an instant follows from a channel's samples.

Each law is a formula that fits on one line, so that it can be printed beside a result and
worked out a second time by somebody else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from overlay.analysis.aiding import MEAN_S, MISFIT_MPS, Aid, aid_for
from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import TIME_TOLERANCE_S

Rows = NDArray[np.intp]
Flags = NDArray[np.bool_]

_BATCH = 50_000

_ROWS = ("values", "slopes", "value_gain", "slope_gain", "residual")


@dataclass(frozen=True, slots=True, kw_only=True)
class Law:
    """How a value follows from samples: a least-squares polynomial over a window, or, with a
    degree of zero, the straight line between the two neighbours. With an `aid` the polynomial
    is of what the acceleration leaves over."""

    name: str
    degree: int
    half_s: float
    text: str
    aid: Aid | None = None


LAWS: Mapping[str, Law] = MappingProxyType(
    {
        law.name: law
        for law in (
            Law(
                name="parabola",
                degree=2,
                half_s=0.5,
                text="least-squares parabola through the samples within 0.5 s of t, read at t",
            ),
            Law(
                name="line",
                degree=1,
                half_s=0.2,
                text="least-squares line through the samples within 0.2 s of t, read at t",
            ),
            Law(
                name="neighbours",
                degree=0,
                half_s=0.0,
                text="straight line between the samples before and after t",
            ),
            Law(
                name="aided",
                degree=1,
                half_s=1.5,
                text="A(t) + least-squares line through v − A of the samples within 1.5 s of t, "
                "read at t, with A the integral of acceleration; the parabola within 0.5 s where "
                "acceleration has a hole or that line leaves more than 0.1 m/s",
            ),
        )
    }
)
"""All laws. A least-squares parabola over equal spacing is the filter of Savitzky and Golay."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """What a law gives at a row of instants.

    Parameters
    ----------
    values, slopes : [shape=(n,), SI and SI/s]
        NaN where there is none.
    value_gain, slope_gain : [shape=(n,)]
        Standard deviation of value and slope for one of the samples, if those were white.
    residual : [shape=(n,), SI]
        Root mean square of what the polynomial leaves, with the degrees of freedom taken off.
    """

    values: Floats
    slopes: Floats
    value_gain: Floats
    slope_gain: Floats
    residual: Floats

    def where_known(self, otherwise: Fit) -> Fit:
        """Its values where it has any, else those of another."""
        known = np.isfinite(self.values)
        return Fit(
            **{
                name: np.where(known, getattr(self, name), getattr(otherwise, name))
                for name in _ROWS
            }
        )


PERIOD_SLACK = 1.01
"""Ten a second by a logger's own clock, which runs slow, is a little less by UTC."""


def law_for(channel: Channel, channels: Mapping[str, Channel]) -> Law:
    """The law for a channel: what is sampled too slowly for a window is read off between its
    neighbours, and speed is aided by acceleration.

    Parameters
    ----------
    channels
        All of its day, by key, timely.
    """
    period = channel.period_s / PERIOD_SLACK
    if channel.kind.turns:
        return LAWS["neighbours"]
    if channel.kind.quantity == "speed" and period <= 0.2:
        aid = aid_for(channel, channels) if channel.name == "speed" else None
        return LAWS["parabola"] if aid is None else replace(LAWS["aided"], aid=aid)
    if period <= 0.1:
        return LAWS["line"]
    return LAWS["neighbours"]


def alone(law: Law) -> Law:
    """The law without an aid: quicker, and good enough to see where something happens."""
    return law if law.aid is None else LAWS["parabola"]


def law_at(t_s: float, law: Law) -> Law:
    """The law that gave the value at an instant: aided, or the parabola in its stead."""
    if law.aid is None or np.isfinite(_aided(law.aid, np.array([t_s]), law).values[0]):
        return law
    return alone(law)


def fit(channel: Channel, t_s: Floats | float, law: Law) -> Fit:
    """Value and slope of a channel at any instants.

    There is a value where samples stand on both sides of the instant, where none of the gaps
    inside the window is longer than the channel's limit, and where the window holds at least
    two samples more than the polynomial has degrees.
    """
    t = np.atleast_1d(np.asarray(t_s, dtype=np.float64))
    if law.degree == 0:
        return _between(channel, t)
    parts = [_batch(channel, t[i : i + _BATCH], law) for i in range(0, max(t.size, 1), _BATCH)]
    return Fit(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in _ROWS})


def _batch(channel: Channel, t: Floats, law: Law) -> Fit:
    """As many instants as fit into memory at once."""
    if law.aid is None:
        return _windowed(channel, t, law)
    return _aided(law.aid, t, law).where_known(_windowed(channel, t, alone(law)))


def _aided(aid: Aid, t: Floats, law: Law) -> Fit:
    """Along the acceleration; NaN where that is not to be had, or belies the speed."""
    left = _windowed(aid.left, t, law)
    with np.errstate(invalid="ignore"):
        sound = aid.whole(t, law.half_s) & (left.residual <= MISFIT_MPS)
    hole = np.where(sound, 1.0, np.nan)
    # What acceleration was about an instant, and no single slam on a wave.
    push = (aid.gained(t + MEAN_S) - aid.gained(t - MEAN_S)) / (2 * MEAN_S)
    return Fit(
        values=(left.values + aid.gained(t)) * hole,
        slopes=(left.slopes + push) * hole,
        value_gain=left.value_gain * hole,
        slope_gain=left.slope_gain * hole,
        residual=left.residual * hole,
    )


def _between(channel: Channel, t: Floats) -> Fit:
    good = np.isfinite(channel.values)
    times, values = channel.t_s[good], channel.values[good]
    slopes = np.full(t.shape, np.nan)
    if times.size > 1:
        after = np.clip(np.searchsorted(times, t, side="right"), 1, times.size - 1)
        slopes = (values[after] - values[after - 1]) / (times[after] - times[after - 1])
    shown = channel.at(t)
    slopes = np.where(np.isfinite(shown), slopes, np.nan)
    ones = np.ones(t.shape)
    return Fit(
        values=shown,
        slopes=slopes,
        value_gain=ones,
        slope_gain=ones * (2**0.5 / channel.period_s),
        residual=np.full(t.shape, np.nan),
    )


def _windowed(channel: Channel, t: Floats, law: Law) -> Fit:
    reach = law.half_s + TIME_TOLERANCE_S
    ends = (np.min(t, initial=np.inf) - reach, np.max(t, initial=-np.inf) + reach)
    near = slice(
        np.searchsorted(channel.t_s, ends[0], side="left"),
        np.searchsorted(channel.t_s, ends[1], side="right"),
    )
    good = np.isfinite(channel.values[near])
    times, samples = channel.t_s[near][good], channel.values[near][good]
    first = np.searchsorted(times, t - reach, side="left")
    last = np.searchsorted(times, t + reach, side="right")
    count = last - first
    width = max(int(count.max(initial=0)), 1)
    index = first[:, None] + np.arange(width)[None, :]
    inside = index < last[:, None]
    index = np.minimum(index, max(times.size - 1, 0))
    if times.size == 0:
        empty = np.full(t.shape, np.nan)
        return Fit(values=empty, slopes=empty, value_gain=empty, slope_gain=empty, residual=empty)
    # Scaled to the window, so that the normal equations are as good as they can be.
    tau = np.where(inside, (times[index] - t[:, None]) / law.half_s, 0.0)
    y = np.where(inside, samples[index], 0.0)
    powers = np.stack([inside * tau**k for k in range(law.degree + 1)], axis=-1)
    normal = np.einsum("nwi,nwj->nij", powers, powers)
    right = np.einsum("nwi,nw->ni", powers, y)
    usable = _usable(channel, times, t, first, last) & (count >= law.degree + 2)
    normal[~usable] = np.eye(law.degree + 1)
    # Windows whose samples stand at too few places for the polynomial have no inverse.
    usable &= np.linalg.det(normal) > 1e-9
    normal[~usable] = np.eye(law.degree + 1)
    inverse = np.linalg.inv(normal)
    solved = np.einsum("nij,nj->ni", inverse, right)
    left_over = np.where(inside, y - np.einsum("nwi,ni->nw", powers, solved), 0.0)
    freedom = np.maximum(count - law.degree - 1, 1)
    hole = np.where(usable, 1.0, np.nan)
    return Fit(
        values=solved[:, 0] * hole,
        slopes=solved[:, 1] / law.half_s * hole,
        value_gain=np.sqrt(inverse[:, 0, 0]) * hole,
        slope_gain=np.sqrt(inverse[:, 1, 1]) / law.half_s * hole,
        residual=np.sqrt(np.sum(left_over**2, axis=1) / freedom) * hole,
    )


def _usable(channel: Channel, times: Floats, t: Floats, first: Rows, last: Rows) -> Flags:
    """Whether an instant has samples on both sides and no hole within its window."""
    before = np.searchsorted(times, t + TIME_TOLERANCE_S, side="right") - 1
    after = np.searchsorted(times, t - TIME_TOLERANCE_S, side="left")
    flanked = (before >= first) & (after < last) & (before >= 0) & (after < times.size)
    assert channel.max_gap_s is not None  # set when the channel was made
    wide = np.diff(times) > channel.max_gap_s + TIME_TOLERANCE_S
    holes = np.concatenate([[0], np.cumsum(wide)])
    lowest = np.clip(first, 0, times.size - 1)
    highest = np.clip(last - 1, 0, times.size - 1)
    whole: Flags = flanked & (holes[lowest] == holes[highest])
    return whole
