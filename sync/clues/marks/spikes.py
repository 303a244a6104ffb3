"""Tie marks from an acceleration: a knock on the sensor is a spike of a sample or two.

How it can mislead: a wave hits harder than a hand. So a spike must stand alone, several times
higher than anything else around it, and short.
"""

from __future__ import annotations

import numpy as np

from sync.arrays import Floats
from sync.channel import Channel
from sync.log import Mark

AROUND_S = 1.0
"""The spread is that of this much on either side; the sway of the boat is taken out before, by
a median over little more than a knock's width."""

LEAST_SPIKE_MS2 = 4.0
LEAST_SPREADS = 10.0
"""A spike is at least this high, and this many robust spreads of what is around it."""

MOST_WIDTH_S = 0.12
"""A knock is over within this, and there are no two within it."""

ALONE_S = 0.4
ALONE_SHARE = 0.8
"""A knock holds this share of the energy within that time in three samples; a hull that slams
on a wave rings on for some tenths of a second (common practice, no published source)."""

SHARE_SD = 0.17
"""A standard deviation of a knock's instant as a share of a sample's time, so that 1.96 of it
hold in 95 of 100: it errs within bounds, with no long tails (calibrated on simulated sensors that
average or filter, on other seeds than those of the tests)."""

PUSH_S = 0.003
"""How much later than the touch the middle of a knock is: the push lasts for some milliseconds,
and its mount rings on (own choice)."""


def spike_marks(channel: Channel) -> tuple[Mark, ...]:
    """Knocks in an acceleration channel, as marks labelled `knock`.

    The mark stands at the middle of the highest sample and its neighbours,

    ::

        t = Σ w t / Σ w - 3 ms,    w = max(0, what swings the same way as the highest)
        sd = 0.17 period

    Parameters
    ----------
    channel
        An acceleration, sampled often enough that a knock shows: 50 Hz is common.
    """
    good = np.isfinite(channel.values)
    t, values = channel.t_s[good], channel.values[good]
    period = channel.period_s
    if t.size < 20 or not period > 0:
        return ()
    half = max(round(AROUND_S / period), 4)
    width = max(round(MOST_WIDTH_S / period), 1)
    swing = values - _running_median(values, width + 1)
    off = np.abs(swing)
    spread = 1.4826 * _running_median(off, half)
    high = off >= np.maximum(LEAST_SPIKE_MS2, LEAST_SPREADS * spread)
    marks: list[Mark] = []
    for k in np.flatnonzero(high).tolist():
        near = slice(max(k - width, 0), k + width + 1)
        if off[k] < np.max(off[near]) or (marks and t[k] - marks[-1].t_s <= MOST_WIDTH_S):
            continue
        if _alone(off, k, round(ALONE_S / period)):
            marks.append(
                Mark(
                    label="knock",
                    clock=channel.clock,
                    t_s=_middle(t, swing, k) - PUSH_S - channel.delay_s,
                    sd_s=float(np.hypot(SHARE_SD * period, channel.delay_sd_s)),
                    source=f"spike in {channel.key} ({channel.source})",
                )
            )
    return tuple(marks)


def _middle(t: Floats, swing: Floats, k: int) -> float:
    """The instant of a knock from the samples that it lies in."""
    near = slice(max(k - 1, 0), k + 2)
    weight = np.maximum(swing[near] * np.sign(swing[k]), 0.0)
    return float(t[k] + np.average(t[near] - t[k], weights=weight))


def _alone(off: Floats, k: int, reach: int) -> bool:
    """Whether a sample and its neighbours hold most of the energy around them."""
    energy = off**2
    around = float(np.sum(energy[max(k - reach, 0) : k + reach + 1]))
    return float(np.sum(energy[max(k - 1, 0) : k + 2])) >= ALONE_SHARE * around


def _running_median(values: Floats, half: int) -> Floats:
    from scipy.ndimage import median_filter  # late: scipy is heavy

    return np.asarray(median_filter(values, size=2 * half + 1, mode="nearest"), dtype=np.float64)
