"""Blocks of sound put in a row, brought to another rate on the way where one is wanted.

An hour of sound is held once, and at the rate that is wanted: blocks are resampled some seconds
at a time, each with as much of its neighbours as the filter reaches, which comes to the same as
resampling the whole.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from sync.media.sound_blocks import Samples

AT_ONCE = 1 << 18
"""Samples that are resampled at once: five seconds and more."""

FILTER_REACH = 11
"""How far SciPy's resampling filter reaches to either side, in samples of the lower rate, and
one to spare."""


class Row:
    """Blocks [shape=(n,) or (channels, n)] that follow on from each other.

    Parameters
    ----------
    ratio
        The rate that is wanted over the rate of the blocks.
    """

    def __init__(self, ratio: Fraction) -> None:
        self.up, self.down = ratio.numerator, ratio.denominator
        self.step = self.down * max(1, AT_ONCE // self.down)
        reach = FILTER_REACH * max(self.up, self.down) // self.up + 1
        self.margin = self.down * -(-reach // self.down)
        self.held: list[Samples] = []
        # Numbers of the first sample that is held, and of the first that is not yet resampled.
        self.begin = self.done = 0
        self.end = 0
        self.parts: list[Samples] = []

    def add(self, block: Samples) -> None:
        """Put a block at the end."""
        if not block.shape[-1]:
            return
        self.end += block.shape[-1]
        if self.up == self.down:
            self.parts.append(block)
            return
        self.held.append(block)
        if self.end >= self.done + self.step + self.margin:
            self._resample(self.done + self.step)

    def whole(self) -> Samples:
        """Everything as one; each part is let go once it is copied."""
        if self.held:
            self._resample(self.end)
        if not self.parts:
            return np.zeros(0, dtype=np.float32)
        length = sum(part.shape[-1] for part in self.parts)
        row = np.empty((*self.parts[0].shape[:-1], length), dtype=np.float32)
        self.parts.reverse()
        at = 0
        while self.parts:
            part = self.parts.pop()
            row[..., at : at + part.shape[-1]] = part
            at += part.shape[-1]
        return row

    def _resample(self, until: int) -> None:
        """Bring what is held up to a sample to the other rate."""
        from scipy.signal import resample_poly  # 1 s: only where another rate is asked for

        held = np.concatenate(self.held, axis=-1)
        low = resample_poly(held, self.up, self.down, axis=-1)
        skip = (self.done - self.begin) // self.down * self.up
        last = until == self.end
        wanted = low.shape[-1] if last else skip + (until - self.done) // self.down * self.up
        self.parts.append(np.array(low[..., skip:wanted], dtype=np.float32))
        self.done = until
        kept = max(0, until - self.margin)
        self.held = [] if last else [np.array(held[..., kept - self.begin :])]
        self.begin = kept
