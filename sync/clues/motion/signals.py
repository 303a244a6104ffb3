"""Channels on an even grid, smoothed alike, so that what two logs felt can be compared.

Levels and rates of change see the same window: a straight line through the samples within it
has a slope that is the derivative under a parabola, and levels are averaged under that same
parabola. Neither moves anything in time. A hole makes the grid empty for half a window around.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sync.arrays import Floats
from sync.channel import Channel

STEP_S = 0.1
"""Step of the grid; loggers write ten times a second at most where speed is concerned."""

HALF_WINDOW_S = 0.5
HALF_WINDOW_PERIODS = 1.5
"""Half the window's width: a boat gathers way over seconds, and noise of single samples must
go; a slow channel needs its three samples (own choice, see tests/bench/accuracy_sync.py)."""

LEAST_COMMON_S = 60.0
"""Least that two logs must share at an offset for it to be looked at (own choice)."""

Bools = NDArray[np.bool_]

Powers = tuple[int, int]
"""Powers of the cause and of the effect's own value whose product explains."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Series:
    """Values [shape=(n,)] on a grid of `STEP_S` from `start_s` on; NaN where there is none."""

    start_s: float
    values: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Motion:
    """What is compared: cause, effect and the effect's own state, and the law's terms.

    `own` are powers of the state alone, `joint` powers of cause and state; what is slower
    than `fast_s` on either side is left out of all.
    """

    cause: Series
    effect: Series
    state: Series
    own: tuple[int, ...]
    joint: tuple[Powers, ...]
    fast_s: float


def instants(series: Series) -> Floats:
    """The times of a series [shape=(n,), s]."""
    steps = np.arange(series.values.size, dtype=np.float64)
    return np.asarray(series.start_s + STEP_S * steps, dtype=np.float64)


def half_window_s(*channels: Channel) -> float:
    """Half the width of the window under which all of some channels are smoothed."""
    return max(HALF_WINDOW_S, *(HALF_WINDOW_PERIODS * channel.period_s for channel in channels))


def on_grid(channel: Channel) -> Series:
    """A channel, its delay taken out, on the grid from its first value to its last.

    Faster channels are averaged over each step; directions are unwound first.
    """
    channel = channel.timely()
    good = np.isfinite(channel.values)
    t, values = channel.t_s[good], channel.values[good]
    start = float(t[0])
    count = int((t[-1] - start) / STEP_S) + 1
    grid = instants(Series(start_s=start, values=np.empty(count)))
    if channel.kind.turns:
        values = np.unwrap(values)
    if channel.period_s < STEP_S / 1.5:
        cell = np.round((t - start) / STEP_S).astype(np.int64)
        times = np.bincount(cell, minlength=count)[:count]
        total = np.bincount(cell, weights=values, minlength=count)[:count]
        out = np.full(count, np.nan)
        np.divide(total, times, out=out, where=times > 0)
        empty = ~np.isfinite(out)
        out[empty] = np.interp(grid[empty], t, values)
    else:
        out = np.interp(grid, t, values)
    out[~np.isfinite(channel.at(grid))] = np.nan
    return Series(start_s=start, values=out)


def smoothed(series: Series, half_s: float) -> Series:
    """The level under a parabola of a given half width.

    ::

        Σ x(t + u) (w² − u²) / Σ (w² − u²),   w the half width and half a step
    """
    u = _steps(half_s) * STEP_S
    weights = (half_s + STEP_S / 2) ** 2 - u**2
    return _filtered(series, weights / np.sum(weights))


def slope(series: Series, half_s: float) -> Series:
    """The rate of change as that of a straight line through a window of a given half width.

    ::

        Σ x(t + u) u / Σ u²
    """
    u = _steps(half_s) * STEP_S
    return _filtered(series, u / np.sum(u**2))


def quick(columns: Floats, there: Bools, half_s: float) -> Floats:
    """What changes fast: columns less their means over `half_s` on either side.

    Parameters
    ----------
    columns : [shape=(n,) or (n, m)]
        Series on the grid; what they hold where nothing is `there` does not matter.
    there : [shape=(n,)]
        Where they have values; means are over these alone.
    half_s
        Half the width over which the mean is taken.
    """
    half = round(half_s / STEP_S)
    shape = (-1,) + (1,) * (columns.ndim - 1)
    known = there.astype(np.float64).reshape(shape)
    filled = np.where(there.reshape(shape), columns, 0.0)
    total, count = _running_sum(filled, half), _running_sum(known, half)
    return np.asarray(np.where(known > 0, filled - total / np.maximum(count, 0.5), 0.0))


def _running_sum(values: Floats, half: int) -> Floats:
    sums = np.concatenate([np.zeros((1, *values.shape[1:])), np.cumsum(values, axis=0)])
    at = np.arange(values.shape[0])
    last = np.minimum(at + half + 1, values.shape[0])
    return np.asarray(sums[last] - sums[np.maximum(at - half, 0)])


def _steps(half_s: float) -> Floats:
    half = round(half_s / STEP_S)
    return np.arange(-half, half + 1, dtype=np.float64)


def _filtered(series: Series, weights: Floats) -> Series:
    """A window's weighted sum, where the whole window has values."""
    x, half = series.values, weights.size // 2
    out = np.full(x.size, np.nan)
    if x.size >= weights.size:
        middle = np.nanmean(x) if np.any(np.isfinite(x)) else 0.0
        filled = np.where(np.isfinite(x), x - middle, 0.0)
        inner = np.correlate(filled, weights, mode="valid")
        whole = np.correlate(np.isfinite(x).astype(np.float64), np.ones(weights.size), "valid")
        inner = inner + middle * np.sum(weights)
        out[half : half + inner.size] = np.where(whole > weights.size - 0.5, inner, np.nan)
    return Series(start_s=series.start_s, values=out)


def scaled(values: Floats) -> Floats:
    """Values about nought and of the size of one; NaN stays."""
    good = values[np.isfinite(values)]
    spread = float(np.std(good)) if good.size else 0.0
    return values if spread == 0 else np.asarray((values - np.mean(good)) / spread)
