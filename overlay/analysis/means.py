"""Means over a stretch, and how sure they are: noise of instruments and sea is coloured.

Ten values a second are not ten pieces of evidence: a receiver filters, and waves last seconds.
So the stretch is cut into blocks longer than that, and the scatter of their means tells,

::

    sd = t / 1.96 · s(block means) / √k,    t the 97.5 % point of Student's t with k − 1

so that 1.96 of it hold in 95 of 100 cases however few blocks there are.

Source: the method of batch means (Law, Simulation Modeling and Analysis, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sync.clock import Span
from sync.log import Channel, Floats

BLOCK_S = 2.5
"""Length of a block: longer than receivers' filters, and about a wave as a planing boat meets
them (own choice, see tests/overlay/analysis/test_means.py)."""

LEAST_BLOCKS = 3


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
    blocks = max(LEAST_BLOCKS, int(span.length_s / BLOCK_S))
    block = np.minimum((here.t_s - span.start_s) / span.length_s * blocks, blocks - 1).astype(int)
    counts = np.bincount(block, minlength=blocks)
    filled = counts > 0
    means = np.bincount(block, weights=values, minlength=blocks)[filled] / counts[filled]
    return Mean(value=value % (2 * math.pi) if channel.kind.turns else value, sd=_deviation(means))


def _deviation(means: np.ndarray) -> float:
    from scipy.special import stdtrit

    k = means.size
    if k < LEAST_BLOCKS:
        return math.nan
    wide = float(stdtrit(k - 1, 0.975)) / 1.959964
    return wide * float(np.std(means, ddof=1)) / math.sqrt(k)


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
