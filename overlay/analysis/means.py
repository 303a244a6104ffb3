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

from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span

WINDOW_S = 5.0
"""Length of a window, or half the stretch if that is shorter: twice a wave as a planing boat
meets them, and far longer than receivers' filters (own choice, see
tests/overlay/analysis/test_means.py)."""

BANDWIDTH = 1.5
"""Of Hann's window, in parts of one over its length."""

LEAST_BLOCKS = 3
LEAST_FOR_LINE = 6

STUDENT_T = (
    12.706204736174694,
    4.302652729749462,
    3.1824463052837078,
    2.7764451051977934,
    2.5705818356363146,
    2.4469118511449786,
    2.364624251592784,
    2.306004135204166,
    2.262157162798205,
    2.228138851986274,
    2.200985160091639,
    2.1788128296672284,
    2.1603686564627913,
    2.144786687917804,
    2.131449545559776,
    2.1199052992212546,
    2.1098155778333156,
    2.1009220402410382,
    2.0930240544083087,
    2.085963447265864,
    2.0796138447276795,
    2.0738730679040254,
    2.0686576104190486,
    2.0638985616280245,
    2.0595385527532972,
    2.0555294386428735,
    2.0518305164802846,
    2.0484071417952454,
    2.045229642132703,
    2.0422724563012378,
    2.039513446396408,
    2.0369333434601016,
    2.0345152974493383,
    2.0322445093177186,
    2.030107928250343,
    2.0280940009804502,
    2.0261924630291093,
    2.0243941639119694,
    2.022690920036761,
    2.021075390306273,
    2.019540970441376,
    2.0180817028184443,
    2.016692199227824,
    2.0153675744437636,
    2.014103388880846,
    2.012895598919429,
    2.0117405137297655,
    2.010634757624232,
    2.0095752371292392,
    2.008559112100761,
    2.007583770315836,
    2.006646805061688,
    2.0057459953178687,
    2.0048792881880564,
    2.0040447832891455,
    2.003240718847872,
    2.002465459291007,
    2.0017174841452356,
    2.000995378088267,
    2.0002978220142604,
)
"""The 97.5 % points of Student's t for 1, 2, 3 … degrees of freedom, as SciPy's `stdtrit` has them,
which a test holds: to import its `scipy.special` takes a fifth of a second. Beyond, it is asked."""


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
    left, freedom = means - np.mean(means), means.size - 1
    if means.size >= LEAST_FOR_LINE:
        along = np.arange(means.size) - (means.size - 1) / 2
        left = left - along * float(np.sum(along * left) / np.sum(along**2))
        freedom -= 1
    wide = student_t(freedom) / 1.959964
    return wide * math.sqrt(float(np.sum(left**2)) / freedom)


def student_t(freedom: int) -> float:
    """The 97.5 % point of Student's t."""
    if 1 <= freedom <= len(STUDENT_T):
        return STUDENT_T[freedom - 1]
    from scipy.special import stdtrit  # late: a fifth of a second

    return float(stdtrit(freedom, 0.975))


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
