"""Means over a stretch, and how sure they are: noise of instruments and sea is coloured.

Ten values a second are not ten pieces of evidence: a receiver filters, and waves last seconds.
So the stretch is looked at through windows of five seconds that fade in and out and overlap by
half; the scatter of their means, free of what comes and goes within a window, tells

::

    w(t) = cos²(π (t − c) / L),   |t − c| < L / 2
    sd = q / 1.96 · s(window means) · √(L / 1.5 T)

with T the stretch, and q the 97.5 % point of Student's t with as many degrees of freedom as there
are windows less one, so that 1.96 of it hold in 95 of 100 cases however few there are. From six
windows on a straight line is taken out of their means first, for one degree more: a boat that
still gains a little within the bands of a step is no noise, and her mean is what it is.

Source: the spectrum at nought by overlapped windows (Welch 1967, with Hann's window, whose noise
bandwidth is 1.5 / L; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sync.clock import Span
from sync.log import Channel, Floats

WINDOW_S = 5.0
"""Length of a window, or half the stretch if that is shorter: twice a wave as a planing boat
meets them, and far longer than receivers' filters (own choice, see
tests/overlay/analysis/test_means.py)."""

BANDWIDTH = 1.5
"""Of Hann's window, in parts of one over its length."""

LEAST_BLOCKS = 3
LEAST_FOR_LINE = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Mean:
    """A mean and one standard deviation of it; both NaN where the channel has no value."""

    value: float
    sd: float

    @property
    def known(self) -> bool:
        """Whether there is a value."""
        return math.isfinite(self.value)


NONE = Mean(value=math.nan, sd=math.nan)


def mean_of(channel: Channel | None, span: Span) -> Mean:
    """The mean of a channel over a stretch; none where it has a hole there.

    A direction is averaged as a direction, in [0, 2π).
    """
    if channel is None or channel.broken_in(span):
        return NONE
    here = channel.cut(span)
    if here.values.size < LEAST_BLOCKS or not np.all(np.isfinite(here.values)):
        return NONE
    values = np.unwrap(here.values) if channel.kind.turns else here.values
    value = float(np.mean(values))
    sd = _deviation(here.t_s, values - value, span)
    return Mean(value=value % (2 * math.pi) if channel.kind.turns else value, sd=sd)


def _deviation(t_s: Floats, values: Floats, span: Span) -> float:
    """Of the mean of some values over a stretch, from the scatter of windows within it."""
    length_s = min(WINDOW_S, span.length_s / 2)
    count = max(LEAST_BLOCKS, math.floor(2 * span.length_s / length_s - 1 + 1e-9))
    centres = np.linspace(span.start_s + length_s / 2, span.stop_s - length_s / 2, count)
    first, last = (np.searchsorted(t_s, centres + side * length_s / 2) for side in (-1, 1))
    means = []
    for centre, low, high in zip(centres, first, last, strict=True):
        weight = np.cos(np.pi * (t_s[low:high] - centre) / length_s) ** 2
        if (total_weight := float(np.sum(weight))) > 0:
            means.append(float(np.sum(weight * values[low:high])) / total_weight)
    if len(means) < LEAST_BLOCKS:
        return math.nan
    share = math.sqrt(length_s / (BANDWIDTH * span.length_s))
    return widened_scatter(np.array(means)) * share


def widened_scatter(means: Floats) -> float:
    """How far some means scatter about a line, or about their mean where they are few, so wide
    that 1.96 of it hold in 95 of 100."""
    from scipy.special import stdtrit

    left, freedom = means - np.mean(means), means.size - 1
    if means.size >= LEAST_FOR_LINE:
        along = np.arange(means.size) - (means.size - 1) / 2
        left = left - along * float(np.sum(along * left) / np.sum(along**2))
        freedom -= 1
    wide = float(stdtrit(freedom, 0.975)) / 1.959964
    return wide * math.sqrt(float(np.sum(left**2)) / freedom)


def total(means: Sequence[Mean]) -> Mean:
    """A sum: one part without a value leaves it without; doubts add as independent ones."""
    if not means or not all(one.known for one in means):
        return NONE
    return Mean(
        value=math.fsum(one.value for one in means),
        sd=math.sqrt(math.fsum(one.sd**2 for one in means)),
    )


def average(means: Sequence[Mean]) -> Mean:
    """The plain mean of several; none where one of them has no value."""
    added = total(means)
    if not added.known:
        return NONE
    return Mean(value=added.value / len(means), sd=added.sd / len(means))


def running_mean(values: Floats, count: int) -> Floats:
    """The mean of so many values about each, an odd number; NaN where any of them is, and at the
    ends."""
    if values.size < count:
        return values
    out = np.full(values.shape, np.nan)
    half = count // 2
    out[half:-half] = np.convolve(values, np.full(count, 1 / count), mode="valid")
    return out
