"""What the messages of a bus say about the time.

System time (126992) and the position of a GNSS receiver (129029) state a time in UTC. Held
against the logger's stamps they tell how its clock is set; in a log without stamps they are
the only times that there are, and the messages between two of them are spread evenly.
"""

from __future__ import annotations

import numpy as np

from sync.arrays import Floats
from sync.log import ClockReading
from sync.readers.can_bus import Bus, Integers
from sync.readers.can_signals import GNSS_POSITION, SYSTEM_TIME
from sync.readers.days import DAY_S

TIME_SOURCES = {0: "GPS", 1: "GLONASS", 2: "radio", 3: "caesium", 4: "rubidium", 5: "crystal"}
"""Where a system time comes from (canboat's database)."""

EARLIEST_DAY = 10957
"""2000-01-01: an earlier date is that of a clock that was never set."""

LATEST_DAY = 65532

LONGEST_WAIT_S = 3.0
"""Over a longer pause between two times, messages cannot be spread: the bus may have been
silent for part of it (own choice; the times are due every second)."""


def readings(bus: Bus, clock: str) -> tuple[ClockReading, ...]:
    """Every statement of the time, in the order of the log."""
    found = [
        *_of(bus, SYSTEM_TIME, clock),
        *_of(bus, GNSS_POSITION, clock),
    ]
    return tuple(sorted(found, key=lambda reading: reading.t_log_s))


def _of(bus: Bus, group: int, clock: str) -> list[ClockReading]:
    rows, t_utc, sources = stated(bus, group)
    return [
        ClockReading(clock=clock, t_log_s=t_log, t_utc_s=t, source=source)
        for t_log, t, source in zip(bus.t_s[rows].tolist(), t_utc.tolist(), sources, strict=True)
        if np.isfinite(t_log)
    ]


def stated(bus: Bus, group: int) -> tuple[Integers, Floats, list[str]]:
    """Rows of the messages that state a time, the times in UTC, and who states them."""
    rows = np.flatnonzero(
        (bus.key >> 8 == group) & (bus.size >= (8 if group == SYSTEM_TIME else 32))
    )
    table = bus.table(rows, 32).astype(np.int64)
    place = 2 if group == SYSTEM_TIME else 1
    day = table[:, place] | table[:, place + 1] << 8
    ticks = sum((table[:, place + 2 + i] << (8 * i) for i in range(4)), np.zeros(len(rows), int))
    tod = ticks * 1e-4
    good = (day >= EARLIEST_DAY) & (day <= LATEST_DAY) & (tod < DAY_S + 1.0)
    if group == GNSS_POSITION:
        good &= np.isin(table[:, 31] >> 4, (1, 2, 3, 4, 5))
    rows, t_utc = rows[good], day[good] * DAY_S + tod[good]
    address = (bus.key[rows] & 0xFF).tolist()
    kind = (table[good, 1] & 0x0F).tolist()
    if group == SYSTEM_TIME:
        texts = [
            f"PGN {group} from {a}"
            + (f" ({TIME_SOURCES[k]})" if k > 2 and k in TIME_SOURCES else "")
            for a, k in zip(address, kind, strict=True)
        ]
    else:
        texts = [f"PGN {group} from {a}" for a in address]
    return rows, t_utc, texts


def placed(bus: Bus) -> tuple[Floats, float]:
    """Times in UTC for the messages of a log without stamps.

    The sender with the most times is believed. Between two of its times the messages are
    spread evenly by their place; before the first, after the last and over long pauses there
    is no time.

    Returns
    -------
    t_s : [shape=(n,), s, UTC]
    sd_s
        One standard deviation of them: that of an even spread over one interval.
    """
    best: tuple[Integers, Floats] | None = None
    for group in (GNSS_POSITION, SYSTEM_TIME):
        rows, t_utc, texts = stated(bus, group)
        for text in sorted(set(texts)):
            mine = np.array([other == text for other in texts])
            if best is None or int(mine.sum()) > best[0].size:
                best = rows[mine], t_utc[mine]
    t = np.full(bus.t_s.size, np.nan)
    if best is None or best[0].size < 2:
        return t, float("nan")
    rows, t_utc = best
    rising = np.flatnonzero(np.diff(t_utc, prepend=-np.inf) > 0)
    rows, t_utc = rows[rising], t_utc[rising]
    if rows.size < 2 or np.any(np.diff(t_utc) <= 0):
        return t, float("nan")
    place = bus.line.astype(np.float64)
    at = np.clip(np.searchsorted(rows, np.arange(t.size), side="right"), 1, rows.size - 1)
    gap = t_utc[at] - t_utc[at - 1]
    inside = (np.arange(t.size) >= rows[0]) & (np.arange(t.size) <= rows[-1])
    inside &= gap <= LONGEST_WAIT_S
    spread = np.interp(place, place[rows], t_utc)
    return np.where(inside, spread, np.nan), float(np.median(np.diff(t_utc)) / np.sqrt(12.0))
