"""A picture's turning and the boat's side by side, for a person who judges a tie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sync.arrays import Floats
from sync.channel import Channel
from sync.clues.motion.signals import STEP_S, quick
from sync.clues.picture.fit import LEAST_COMMON, SLOW_S
from sync.clues.picture.signals import FELT_BY, SIGNALS, Logged, Seen, half_s, logged_in, seen_in
from sync.clues.picture.turning import Turning


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curves:
    """The way in which the picture's turning is explained best, at one offset.

    Parameters
    ----------
    t_s : [shape=(n,), s of the footage]
    seen, logged : [shape=(n,)]
        The picture's rate, and what the log's rates make of it; in shares of the picture's
        width a second, or rad/s for `about`. NaN where there is none.
    way
        `across`, `down` or `about`.
    explained
        Share of the variance of what is seen that is in what was logged.
    """

    t_s: Floats
    seen: Floats
    logged: Floats
    way: str
    explained: float


def curves(turning: Turning, channels: Sequence[Channel], shift_s: float) -> Curves | None:
    """Both curves where ``t_log = t_footage + shift_s``; None where they cannot be compared.

    Parameters
    ----------
    channels
        Those that `turning_channels` chose.
    """
    if not channels:
        return None
    half = half_s(channels)
    seen = seen_in(turning, half)
    if seen is None:
        return None
    logged = logged_in(channels, half)
    made = [_way(seen, logged, k, shift_s) for k in range(len(SIGNALS))]
    return max((one for one in made if one is not None), key=lambda c: c.explained, default=None)


def _way(seen: Seen, logged: Logged, k: int, shift_s: float) -> Curves | None:
    """One way of the picture, by weighted least squares of what the log felt."""
    causes = [name for name in FELT_BY[SIGNALS[k]] if name in logged.rates]
    t = _grid(seen.start_s, seen.rates.shape[0])
    grid = _grid(logged.start_s, logged.there.size)
    place = np.clip(np.round((t + shift_s - logged.start_s) / STEP_S), 0, grid.size - 1).astype(int)
    inside = (t + shift_s >= grid[0]) & (t + shift_s <= grid[-1]) & logged.there[place]
    worth = np.where(inside, seen.worth[:, k], 0.0)
    if not causes or np.sum(worth) < LEAST_COMMON * np.sum(seen.worth[:, k]) or not np.any(worth):
        return None
    there = worth > 0
    rates = np.stack([np.interp(t + shift_s, grid, logged.rates[n]) for n in causes], axis=1)
    y, x = quick(seen.rates[:, k], there, SLOW_S), quick(rates, there, SLOW_S)
    root = np.sqrt(worth)
    factors = np.linalg.lstsq(x * root[:, None], y * root, rcond=None)[0]
    made = x @ factors
    power = float(np.sum(worth * y**2))
    left = float(np.sum(worth * (y - made) ** 2))
    return Curves(
        t_s=t,
        seen=np.where(there, y, np.nan),
        logged=np.where(inside, made, np.nan),
        way=SIGNALS[k],
        explained=1 - left / power if power > 0 else 0.0,
    )


def _grid(start_s: float, size: int) -> Floats:
    return np.asarray(start_s + STEP_S * np.arange(size), dtype=np.float64)
