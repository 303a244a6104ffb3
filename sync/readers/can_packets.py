"""Fast packets: messages of NMEA 2000 that take several frames, put together again.

The first byte of a frame holds a counter (3 bits) that tells one message from the next, and
the frame's place in it (5 bits). Frame 0 goes on with the length of the whole and 6 bytes of
it, the others with 7; the last is filled up with 0xFF (canboat's public description).

A message is put together from frames within `TOGETHER_S` of its first. A frame that comes
twice with equal bytes is one frame; one that comes again with others begins anew, since a
gateway that loses a frame sends the whole again. Frames may come out of order; but a first
frame that finds all others waiting belongs to another message than they, and they go.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass, field

import numpy as np

from sync.readers.can_bus import LONGEST, Bus

TOGETHER_S = 0.75
"""The counter comes round after eight messages, and the quickest of them is sent ten times a
second; a longer wait could glue the head of one to the tail of another (own choice)."""

TOGETHER_ROWS = 500
"""The same for a log without stamps, in frames of the groups that are read: a busy bus has
some hundreds of them in that time (own choice)."""


@dataclass(slots=True)
class _Open:
    """A message whose frames are still coming in; `row` is that of the first to come."""

    row: int
    t_s: float
    frames: dict[int, bytes] = field(default_factory=dict)

    @property
    def length(self) -> int:
        """How many bytes the whole has; nought until frame 0 says so."""
        return self.frames[0][1] if 0 in self.frames else 0

    def whole(self) -> bytes | None:
        """The message, if all of it is there."""
        length = self.length
        if not length:
            return None
        parts = [self.frames[0][2:]]
        for place in range(1, _frames_of(length)):
            if place not in self.frames:
                return None
            parts.append(self.frames[place][1:])
        joined = b"".join(parts)
        return joined[:length] if len(joined) >= length else None


def _frames_of(length: int) -> int:
    return 1 if length <= 6 else 1 + -(-(length - 6) // 7)


def assemble(bus: Bus, fast: Collection[int], counts: Counter[str]) -> Bus:
    """Messages in place of the frames of fast packets; all else as it was.

    Parameters
    ----------
    fast
        Groups that are sent as fast packets. Of these a row with more than 8 bytes is a
        message already.
    counts
        Takes up `repeated_frames` and `broken_packets`.
    """
    framed = np.isin(bus.key >> 8, np.array(sorted(fast))) & (bus.size <= 8)
    if not framed.any():
        return bus
    data, start, size = bytearray(bus.data.tobytes()), bus.start.copy(), bus.size.copy()
    keep = ~framed
    waiting: dict[tuple[int, int], _Open] = {}
    for row in np.flatnonzero(framed).tolist():
        frame = bus.bytes_of(row)
        if len(frame) < 2:
            counts["broken_packets"] += 1
            continue
        spot = (int(bus.key[row]), frame[0] >> 5)
        packet = _placed(waiting.get(spot), row, float(bus.t_s[row]), frame, counts)
        whole = packet.whole()
        if whole is None:
            waiting[spot] = packet
            continue
        waiting.pop(spot, None)
        keep[packet.row] = True
        start[packet.row], size[packet.row] = len(data), len(whole)
        data += whole
    counts["broken_packets"] += sum(1 for packet in waiting.values() if packet.length)
    return Bus(
        t_s=bus.t_s[keep],
        line=bus.line[keep],
        key=bus.key[keep],
        start=start[keep],
        size=size[keep],
        data=np.frombuffer(bytes(data), dtype=np.uint8),
    )


def _too_late(packet: _Open, row: int, t_s: float) -> bool:
    apart = abs(t_s - packet.t_s)
    return apart > TOGETHER_S or (math.isnan(apart) and row - packet.row > TOGETHER_ROWS)


def _placed(
    packet: _Open | None, row: int, t_s: float, frame: bytes, counts: Counter[str]
) -> _Open:
    """The message that a frame belongs to, with the frame in it."""
    place = frame[0] & 0x1F
    if packet is not None and _too_late(packet, row, t_s):
        counts["broken_packets"] += 1
        packet = None
    if packet is not None and place in packet.frames:
        if packet.frames[place] == frame:
            counts["repeated_frames"] += 1
            return packet
        counts["broken_packets"] += 1
        packet = None
    if packet is None:
        packet = _Open(row=row, t_s=t_s)
    packet.frames[place] = frame
    if place == 0 and (
        not 0 < frame[1] <= LONGEST
        or (len(packet.frames) > 1 and len(packet.frames) >= _frames_of(frame[1]))
    ):
        counts["broken_packets"] += 1
        packet = _Open(row=row, t_s=t_s, frames={0: frame} if 0 < frame[1] <= LONGEST else {})
    return packet
