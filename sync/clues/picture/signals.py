"""The picture's turning and the log's, as rates on one kind of grid, so that they can be compared.

The picture's steps add up to an angle, whose slope under a window is its rate; so does the
log's pitch and roll, and a logged rate of turn is averaged under the parabola that such a slope
comes to. All are averaged over a step of the grid first, about its instants, so that neither
the frames' times nor the log's pull anything in time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sync.arrays import Floats
from sync.channel import Channel
from sync.clues.motion.signals import STEP_S, Bools, Series, instants, slope, smoothed
from sync.clues.picture.turning import Turning

HALF_S = 0.2
HALF_PERIODS = 1.5
"""Half the window's width: waves turn a boat within a second; a slow log needs its three
samples."""

JITTER_S = 1.0
"""Half the stretch over which the noise of the frames is taken."""

JITTER_FRAMES = 5
"""What changes from frame to frame, less its mean over so many, is noise."""

SIGNALS = ("across", "down", "about")
FELT_BY: Mapping[str, tuple[str, ...]] = {
    "across": ("turn_rate",),
    "down": ("pitch", "roll"),
    "about": ("pitch", "roll"),
}
"""Which turning of the boat moves the picture which way, wherever the camera looks."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """The picture's rates [shape=(n, 3), shares of the width and radians a second] and what
    each is worth [shape=(n, 3), 0 to 1], on a grid of the footage's clock."""

    start_s: float
    rates: Floats
    worth: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Logged:
    """A log's rates by the name of the channel, in rad/s, and where all of them have values."""

    start_s: float
    rates: Mapping[str, Floats]
    there: Bools


def half_s(channels: Sequence[Channel]) -> float:
    """Half the width of the window for some channels, to whole steps of the grid."""
    widest = max(HALF_S, *(HALF_PERIODS * channel.period_s for channel in channels))
    return STEP_S * float(np.ceil(round(widest / STEP_S, 6)))


def seen_in(turning: Turning, half: float) -> Seen | None:
    """What a picture's turning comes to; None for fewer frames than a window holds."""
    t = turning.t_s
    if t.size < 8 or np.ptp(t) < 4 * half + 1:
        return None
    known = np.all(np.isfinite(turning.steps), axis=1)
    known[0] = True
    steps = np.where(known[:, None], np.nan_to_num(turning.steps), 0.0)
    grid = instants(Series(start_s=float(t[0]), values=np.empty(int(np.ptp(t) / STEP_S) + 1)))
    lost = np.concatenate([[0.0], np.cumsum(~known, dtype=np.float64)])
    reach = half + STEP_S
    first, last = (np.searchsorted(t, grid + side) for side in (-reach, reach))
    whole = lost[last] - lost[first] == 0
    rates, worth = [], []
    for column in steps.T:
        level = Series(start_s=float(grid[0]), values=_means(t, np.cumsum(column), grid))
        rate = slope(level, half).values
        good = whole & np.isfinite(rate)
        rates.append(np.where(good, rate, 0.0))
        worth.append(np.where(good, _worth(t, column, grid), 0.0))
    return Seen(
        start_s=float(grid[0]), rates=np.stack(rates, axis=1), worth=np.stack(worth, axis=1)
    )


def _worth(t: Floats, steps: Floats, grid: Floats) -> Floats:
    """How much to trust each instant: less where frames jump about, as in spray."""
    rate = np.diff(steps, prepend=0.0) / np.diff(t, prepend=t[0] - np.median(np.diff(t)))
    rough = rate - np.convolve(rate, np.ones(JITTER_FRAMES) / JITTER_FRAMES, mode="same")
    sums = np.concatenate([[0.0], np.cumsum(rough**2)])
    first, last = (np.searchsorted(t, grid + side) for side in (-JITTER_S, JITTER_S))
    noise = (sums[last] - sums[first]) / np.maximum(last - first, 1)
    quiet = float(np.percentile(noise, 20)) + 1e-12
    return np.asarray(quiet / (quiet + noise) * 2).clip(0, 1)


def _means(t: Floats, values: Floats, grid: Floats) -> Floats:
    """Means over a step about each instant of straight lines between samples."""
    area = np.concatenate([[0.0], np.cumsum(np.diff(t) * (values[1:] + values[:-1]) / 2)])

    def up_to(when: Floats) -> Floats:
        inside = np.clip(when, t[0], t[-1])
        i = np.clip(np.searchsorted(t, inside, side="right") - 1, 0, t.size - 2)
        into = inside - t[i]
        rise = (values[i + 1] - values[i]) / (t[i + 1] - t[i])
        held = np.where(when > t[-1], values[-1], values[0]) * (when - inside)
        return np.asarray(area[i] + into * (values[i] + rise * into / 2) + held)

    return (up_to(grid + STEP_S / 2) - up_to(grid - STEP_S / 2)) / STEP_S


def logged_in(channels: Sequence[Channel], half: float) -> Logged:
    """What a log's channels come to; each is timely afterwards.

    Parameters
    ----------
    channels
        Of `turn_rate` or `heading`, `pitch` and `roll`, on one clock, each with values.
    """
    late = [channel.timely() for channel in channels]
    start = min(float(c.t_s[np.isfinite(c.values)][0]) for c in late)
    stop = max(float(c.t_s[np.isfinite(c.values)][-1]) for c in late)
    grid = instants(Series(start_s=start, values=np.empty(int((stop - start) / STEP_S) + 1)))
    there = np.ones(grid.size, dtype=np.bool_)
    rates: dict[str, Floats] = {}
    for channel in late:
        good = np.isfinite(channel.values)
        values = np.unwrap(channel.values[good]) if channel.kind.turns else channel.values[good]
        level = _means(channel.t_s[good], values, grid)
        level[~np.isfinite(channel.at(grid))] = np.nan
        series = Series(start_s=start, values=level)
        rating = channel.name == "turn_rate"
        rate = (smoothed(series, half) if rating else slope(series, half)).values
        there &= np.isfinite(rate)
        rates["turn_rate" if channel.name == "heading" else channel.name] = np.nan_to_num(rate)
    return Logged(start_s=start, rates=rates, there=there)
