"""Bus logs written by hand: plain text lines and candump lines from bytes in hexadecimal."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from sync.log import Log
from sync.readers import LogSettings, read_log

START = "2026-06-11T09:00:"
START_S = 1781168400.0
"""2026-06-11T09:00:00Z in seconds since 1970."""


def plain(group: int, text: str, *, at_s: float = 0.0, source: int = 3, priority: int = 2) -> str:
    """A message as plain text; `text` may have blanks between its bytes or not."""
    data = bytes.fromhex(text)
    cells = ",".join(f"{byte:02x}" for byte in data)
    return f"{START}{at_s:06.3f}Z,{priority},{group},{source},255,{len(data)},{cells}\n"


def candump(can_id: int, text: str, *, at_s: float | None = 0.0) -> str:
    """A frame as SocketCAN's tools log it."""
    stamp = "" if at_s is None else f"({START_S + at_s:.6f}) "
    return f"{stamp}can0 {can_id:08X}#{bytes.fromhex(text).hex().upper()}\n"


def read(folder: Path, *lines: str, settings: LogSettings | None = None) -> Log:
    """The log that lines make."""
    path = folder / "bus.log"
    path.write_text("".join(lines))
    return read_log(path, name="bus", settings=settings)


def value(log: Log, key: str) -> float:
    """The only value of a channel."""
    (found,) = log.channels[key].values
    assert np.isfinite(found)
    return float(found)


def fast(group: int, data: bytes, *, source: int = 3, counter: int = 0) -> list[tuple[int, str]]:
    """A message as the frames of a fast packet: ids and bytes.

    The rules are canboat's: counter and place in the first byte, the length in the second of
    the first frame, 6 and then 7 bytes, filled up with 0xFF.
    """
    can_id = 2 << 26 | group << 8 | source
    frames = [bytes([counter << 5, len(data)]) + data[:6]]
    for place, start in enumerate(range(6, len(data), 7), 1):
        frames.append(bytes([counter << 5 | place]) + data[start : start + 7])
    return [(can_id, frame.ljust(8, b"\xff").hex()) for frame in frames]
