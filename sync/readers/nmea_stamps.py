"""The stamps that a logger put before the sentences of an NMEA 0183 log.

A tag block holds the time under ``c:``, in seconds since 1970 or in milliseconds (IEC
61162-450 and NMEA 0183 4.00, from memory), and a checksum of its own; other loggers write ISO
8601 with an offset from UTC. Held against the time in the sentence behind it, a stamp tells
how the logger's clock is set.
"""

from __future__ import annotations

import datetime as dt
import re
from functools import reduce
from operator import xor

import numpy as np

from sync.arrays import Floats
from sync.log import STAMPS, ClockReading
from sync.readers.nmea_epochs import CLOCK_KIND, TIME_PLACE, Epochs
from sync.readers.nmea_lines import Sentences

_BLOCK = re.compile(r"\\([^\\]*)\*([0-9A-Fa-f]{2})\\")
_TIME = re.compile(r"(?:^|,)c:(\d{9,14})(?:,|$)")
_ISO = re.compile(
    r"(\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}:\d{2}(?:\.\d+)?(?:Z|[+-]\d{2}:?\d{2}))(?![\d:])"
)

LEAST_MS = 1e11
"""A larger number than this counts milliseconds: as seconds it would lie in the year 5138."""

MOST_CHARACTERS = 300
"""What stands before a sentence and is longer is no stamp."""


def stamp(head: str) -> float:
    """Seconds since 1970 of what stands before a sentence; NaN where that is no sound stamp."""
    if len(head) > MOST_CHARACTERS:
        return float("nan")
    for body, claimed in _BLOCK.findall(head):
        found = _TIME.search(body)
        if found and reduce(xor, body.encode("latin-1"), 0) == int(claimed, 16):
            value = float(found.group(1))
            return value / 1000.0 if value >= LEAST_MS else value
    iso = _ISO.search(head)
    if iso is None:
        return float("nan")
    try:
        return dt.datetime.fromisoformat(iso.group(1)).timestamp()
    except (ValueError, OverflowError):
        return float("nan")


def stamp_readings(
    by_address: dict[str, Sentences], epochs: Epochs, name: str
) -> tuple[ClockReading, ...]:
    """What the receiver says of the logger's clock: one reading an epoch, by its first sentence.

    Where the log gives a sentence of its positions, its time is held against the stamp; ZDA
    is not asked, whose time may lag.
    """
    bearers = [
        s
        for s in by_address.values()
        if s.kind in TIME_PLACE and s.kind != CLOCK_KIND and s.talker == epochs.talker
    ]
    if not bearers:
        return ()
    first = min(bearers, key=lambda s: int(s.order[0]) if len(s) else len(epochs.t_s))
    stamps: Floats = np.array([stamp(head) if head else np.nan for head in first.heads()])
    if not np.isfinite(stamps).any():
        return ()
    t = epochs.times(first, np.ones(len(first), dtype=bool))
    good = np.flatnonzero(np.isfinite(stamps) & np.isfinite(t))
    return tuple(
        ClockReading(clock=f"{STAMPS}{name}", t_log_s=a, t_utc_s=b, source=first.address)
        for a, b in zip(stamps[good].tolist(), t[good].tolist(), strict=True)
    )
