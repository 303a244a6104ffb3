"""Speed aided by acceleration: what an accelerometer adds between the receiver's samples.

A receiver's Doppler speed is right in the long run, and its noise lasts for some tenths of a
second; an accelerometer is quiet, but drifts, and takes lean for push. So speed is followed
along the acceleration, and held to the Doppler samples by a straight line:

::

    A(t) = ∫ acceleration dt, by trapezia
    v(t) = A(t) + least-squares line through v_i − A(t_i) within 1.5 s of t, read at t

The line takes up what the accelerometer is off by, and how fast that changes. Where what it
leaves is more than a receiver's noise the two do not speak of the same motion (a boat going
astern, a sensor that shows gravity when the bow comes up), and speed stands alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.channel import Channel

if TYPE_CHECKING:
    from numpy.typing import NDArray

MISFIT_MPS = 0.1
"""The line may leave so much, root mean square: twice the noise of a receiver's speed."""

MEAN_S = 0.5
"""Acceleration is the mean over so much on either side, as that of speed alone is."""

MOST_DELAY_SD_S = 0.025
"""An acceleration whose delay is less sure than this aids nothing: what it has late it puts into
the speed, where nobody would see it (own choice; 0.05 s late, times to 20 mph were 13 ms out)."""

MOST_PERIOD_S = 0.1
"""What is sampled more slowly than this misses a slam between two samples."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Aid:
    """An acceleration, summed up, and the speed that is left over when it is taken off.

    Parameters
    ----------
    key
        Of the acceleration's channel.
    left : Channel
        v_i − A(t_i); no value where the acceleration does not reach.
    t_s, gained_mps : [shape=(n,), s and m/s]
        A at the acceleration's own samples.
    holes : [shape=(n,)]
        How many holes of the acceleration come before each.
    delay_sd_s
        What is not known of how late it was logged.
    """

    key: str
    left: Channel
    t_s: Floats
    gained_mps: Floats
    holes: NDArray[np.intp]
    delay_sd_s: float = 0.0

    def gained(self, t: Floats) -> Floats:
        """A at any instants; NaN outside the acceleration."""
        return np.interp(t, self.t_s, self.gained_mps, left=np.nan, right=np.nan)

    def late_mps(self, t_s: float, half_s: float) -> float:
        """One standard deviation of what the doubt about the acceleration's delay makes of the
        speed at an instant: it counts as far as she pushes harder there than about it."""
        ends = self.gained(t_s + np.array([-half_s, -0.1, 0.1, half_s]))
        here, about = (ends[2] - ends[1]) / 0.2, (ends[3] - ends[0]) / (2 * half_s)
        return self.delay_sd_s * abs(float(here - about))

    def whole(self, t: Floats, half_s: float) -> NDArray[np.bool_]:
        """Whether the acceleration has no hole within a time of each instant."""
        last = self.t_s.size - 1
        before = np.searchsorted(self.t_s, t - half_s, side="right") - 1
        after = np.searchsorted(self.t_s, t + half_s, side="left")
        inside = (before >= 0) & (after <= last)
        first, final = np.clip(before, 0, last), np.clip(after, 0, last)
        return np.asarray(inside & (self.holes[first] == self.holes[final]))


def aid_for(speed: Channel, channels: Mapping[str, Channel]) -> Aid | None:
    """The aid that a day's acceleration gives to its speed; None where there is none.

    Parameters
    ----------
    speed
        Doppler speed, timely.
    channels
        By key, on the same clock, timely; `acceleration` is forward, in m/s², and its delay must
        be known.
    """
    ahead = channels.get("acceleration")
    if ahead is None or ahead.clock != speed.clock or speed.means == "differenced":
        return None
    if not ahead.delay_sd_s <= MOST_DELAY_SD_S:
        return None
    return _summed(speed, ahead)


@lru_cache(maxsize=4)
def _summed(speed: Channel, ahead: Channel) -> Aid | None:
    """The aid by one acceleration; kept, for it is asked for by everything that reads speed."""
    good = np.isfinite(ahead.values)
    t, values = ahead.t_s[good], ahead.values[good]
    if t.size < 2 or not ahead.period_s <= MOST_PERIOD_S:
        return None
    apart = np.diff(t)
    gained = np.concatenate([[0.0], np.cumsum(apart * (values[1:] + values[:-1]) / 2)])
    assert ahead.max_gap_s is not None  # set when the channel was made
    at_samples = np.interp(speed.t_s, t, gained, left=np.nan, right=np.nan)
    return Aid(
        key=ahead.key,
        left=replace(speed, values=speed.values - at_samples, max_gap_s=speed.max_gap_s),
        t_s=t,
        gained_mps=gained,
        holes=np.concatenate([[0], np.cumsum(apart > ahead.max_gap_s)]),
        delay_sd_s=ahead.delay_sd_s,
    )
