"""Linear timecode written as a waveform, apart from the product's own tables.

Bits from the published layout of SMPTE ST 12-1 (libltc `src/ltc.h`, commit bf84b01097a1): the
golden words of `test_ltc.py` hold it against values that were worked out by hand.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

Label = tuple[int, int, int, int]


def word(
    label: Label,
    *,
    drop: bool = False,
    user: Sequence[int] = (0,) * 8,
    polarity_at: int | None = None,
) -> list[int]:
    """The 80 bits of a label: hours, minutes, seconds, frames."""
    hours, minutes, seconds, frames = label
    number = 0
    for at, value in (
        (0, frames % 10), (8, frames // 10), (10, int(drop)), (16, seconds % 10),
        (24, seconds // 10), (32, minutes % 10), (40, minutes // 10), (48, hours % 10),
        (56, hours // 10), (64, 0xBFFC),
    ):  # fmt: skip
        number |= value << at
    for k, group in enumerate(user):
        number |= group << (4 + 8 * k)
    bits = [number >> k & 1 for k in range(80)]
    if polarity_at is not None and sum(bits) % 2:
        bits[polarity_at] ^= 1
    return bits


def following(label: Label, counted: int, *, drop: bool = False) -> Label:
    """The label of the next frame, counted up as a person would."""
    hours, minutes, seconds, frames = label
    frames += 1
    if frames == counted:
        frames, seconds = 0, seconds + 1
    if seconds == 60:
        seconds, minutes = 0, minutes + 1
        if drop and minutes % 10:
            frames = 2
    if minutes == 60:
        minutes, hours = 0, hours + 1
    return hours % 24, minutes, seconds, frames


def bits_from(
    label: Label, count: int, counted: int, *, drop: bool = False, user: Sequence[int] = (0,) * 8,
    polarity_at: int | None = None,
) -> list[int]:  # fmt: skip
    """The bits of so many frames from a label on."""
    bits: list[int] = []
    for _ in range(count):
        bits += word(label, drop=drop, user=user, polarity_at=polarity_at)
        label = following(label, counted, drop=drop)
    return bits


def wave(
    bits: Sequence[int], frame_s: float, rate: float, *, start_s: float = 0.0,
    seconds: float | None = None, rise_s: float = 40e-6,
    bent: Callable[[NDArray[np.float64]], NDArray[np.float64]] | None = None,
) -> NDArray[np.float64]:  # fmt: skip
    """The waveform of bits, ±1, of which the first begins at `start_s`; silence about them.

    Changes of sign take `rise_s` (40 ± 10 µs, the same source); `bent` makes of instants by an
    even clock those at which the bits are.
    """
    period = frame_s / 80
    marks = np.asarray(bits)
    k = np.arange(marks.size)
    changes = np.sort(np.r_[k, k[marks == 1] + 0.5, marks.size]) * period
    if bent is not None:
        changes = bent(changes)
    changes = changes + start_s
    n = int((changes[-1] if seconds is None else seconds) * rate)
    t = np.arange(n) / rate
    level = (-1.0) ** np.searchsorted(changes, t)
    nearest = np.clip(np.searchsorted(changes, t), 1, changes.size - 1)
    before, after = t - changes[nearest - 1], changes[nearest] - t
    ramp = np.clip(2 * np.minimum(before, after) / rise_s, 0, 1)
    inside = (t >= changes[0]) & (t < changes[-1])
    return np.where(inside, level * ramp, 0.0)
