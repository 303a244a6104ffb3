"""Messages off a CAN bus as columns, and the collector that the carriers fill.

An id of 29 bits holds, from the top: 3 bits of priority, 18 bits that say which parameter
group it is, and 8 bits of the sender's address (ISO 11783-3). Groups below 0xF000 are sent
to one address, which then stands in place of the lower byte of the group.
"""

from __future__ import annotations

from array import array
from collections import Counter
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sync.arrays import Floats
from sync.readers.can_stamps import Stamp, seconds

Integers = NDArray[np.int64]
Bytes = NDArray[np.uint8]

FLUSH_STAMPS = 65536
"""Stamps are turned into numbers after so many of them: as text they take ten times the room."""

LONGEST = 223
"""A message of several frames holds at most 6 + 31 × 7 bytes (fast packet rule)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bus:
    """Messages or frames in the order of the file.

    Parameters
    ----------
    t_s : [shape=(n,), s]
        When the logger took it down; NaN where that is not known.
    line : [shape=(n,)]
        Line, or number of the frame in a file without lines, from 1.
    key : [shape=(n,)]
        Group and sender's address, as ``group * 256 + address``.
    start, size : [shape=(n,)]
        Where its bytes stand in `data`, and how many.
    data : [shape=(m,)]
        All bytes in a row.
    """

    t_s: Floats
    line: Integers
    key: Integers
    start: Integers
    size: Integers
    data: Bytes

    def bytes_of(self, row: int) -> bytes:
        """The bytes of one message."""
        start = int(self.start[row])
        return self.data[start : start + int(self.size[row])].tobytes()

    def table(self, rows: Integers, width: int) -> Bytes:
        """The bytes of several messages, cut to a width or filled up with 0xFF.

        Returns
        -------
        table : [shape=(len(rows), width)]
        """
        place = np.arange(width)
        inside = place < self.size[rows, None]
        at = np.where(inside, self.start[rows, None] + place, 0)
        if not self.data.size:
            return np.full(at.shape, 0xFF, dtype=np.uint8)
        return np.where(inside, self.data[at], 0xFF).astype(np.uint8)


@dataclass(slots=True)
class Collector:
    """Takes in messages one by one; `counts` tells what else stood in the file."""

    counts: Counter[str] = field(default_factory=Counter)
    unused: Counter[int] = field(default_factory=Counter)
    lines: array[int] = field(default_factory=lambda: array("q"))
    keys: array[int] = field(default_factory=lambda: array("q"))
    sizes: array[int] = field(default_factory=lambda: array("q"))
    data: bytearray = field(default_factory=bytearray)
    stamps: list[Stamp] = field(default_factory=list)
    times: list[Floats] = field(default_factory=list)

    def add(self, line: int, stamp: Stamp, key: int, data: bytes) -> None:
        """Take in one message or frame."""
        self.lines.append(line)
        self.keys.append(key)
        self.sizes.append(len(data))
        self.data += data
        self.stamps.append(stamp)
        if len(self.stamps) == FLUSH_STAMPS:
            self._flush()

    def _flush(self) -> None:
        self.times.append(seconds(self.stamps))
        self.stamps = []

    def bus(self) -> Bus:
        """Everything that was taken in, as columns."""
        self._flush()
        size = np.array(self.sizes, dtype=np.int64)
        return Bus(
            t_s=np.concatenate(self.times),
            line=np.array(self.lines, dtype=np.int64),
            key=np.array(self.keys, dtype=np.int64),
            start=np.cumsum(size) - size,
            size=size,
            data=np.frombuffer(bytes(self.data), dtype=np.uint8),
        )


def group_of(can_id: int) -> int:
    """The parameter group of an id of 29 bits.

    Examples
    --------
    >>> group_of(0x09F20101)
    127489
    """
    group = (can_id >> 8) & 0x3FFFF
    return group if (group >> 8) & 0xFF >= 0xF0 else group & 0x3FF00


def key_of(can_id: int) -> int:
    """Group and sender's address of an id, as `Bus.key` has them."""
    return group_of(can_id) << 8 | can_id & 0xFF
