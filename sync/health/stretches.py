"""Stretches of a channel in which something holds."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span

Flags = NDArray[np.bool_]
Places = list[tuple[int, int]]

GRID_S = 0.2
"""Step on which channels of different rates are held against each other."""


def runs_of(flags: Flags) -> Places:
    """First and last index of every stretch of true flags."""
    edges = np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8))
    starts, stops = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1
    return list(zip(starts.tolist(), stops.tolist(), strict=True))


def known(channel: Channel) -> tuple[Floats, Floats]:
    """Times and values of the samples that hold a value."""
    good = np.isfinite(channel.values)
    return channel.t_s[good], channel.values[good]


def same_value(channel: Channel, least_s: float, least_count: int) -> list[tuple[Span, float]]:
    """Stretches without a hole in which a channel has one value, and that value."""
    t, values = known(channel)
    if t.size < least_count:
        return []
    assert channel.max_gap_s is not None  # set when the channel was made
    alike = (np.diff(values) == 0) & (np.diff(t) <= channel.max_gap_s + 1e-6)
    return [
        (Span(start_s=float(t[first]), stop_s=float(t[last + 1])), float(values[first]))
        for first, last in runs_of(alike)
        if last + 2 - first >= least_count and t[last + 1] - t[first] >= least_s
    ]


def lasting(flags: Flags, grid: Floats, least_s: float) -> list[Span]:
    """Stretches of a grid in which flags hold for long enough."""
    return [
        Span(start_s=float(grid[first]), stop_s=float(grid[last]))
        for first, last in runs_of(flags)
        if grid[last] - grid[first] >= least_s
    ]


def common_grid(channels: Mapping[str, Channel], *keys: str) -> Floats:
    """A grid over the stretch that channels share; empty where one is missing."""
    spans = [channels[key].span for key in keys if key in channels]
    whole = [span for span in spans if span is not None]
    if len(whole) < len(keys):
        return np.empty(0)
    start, stop = max(s.start_s for s in whole), min(s.stop_s for s in whole)
    return np.arange(start, stop, GRID_S) if stop > start else np.empty(0)
