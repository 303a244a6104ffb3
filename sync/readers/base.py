"""What a reader of logs is, and how to add one.

1. Write `sync/readers/<format>.py`; open it with where its knowledge comes from and what it
   does not cover. Keep columns as recorded apart from the channels that are made of them.
2. Give it `claims(head)`: whether the first 64 KiB of a file are of this format, judged by
   what stands there and never by the file's name. It must be sure: two claims are an error.
3. Give it `read(path, name, settings)`, which returns a `Log` on one clock. Times that do not
   increase go through `order.increasing`, times of day through `days`, values out of the
   bounds of their `ChannelKind` through `bounded`. Whatever is left out is counted in
   `Log.counts` and, where a person should know, told in `Log.warnings`. Nothing usable is an
   `EmptyLogError`; a broken rule of the format is a `LogFormatError` with its line.
4. Make it a `Reader` and add that to `READERS` in `sync/readers/__init__.py`.
5. Add a sample of the format to `tests/log_samples.py`; the contracts in
   `tests/sync/test_readers_contract.py` then hold for it too. Test against an outside source.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

import numpy as np

from sync.arrays import Floats
from sync.channel_kinds import CHANNELS
from sync.clock import UTC
from sync.errors import LogFormatError
from sync.log import Log
from sync.readers.gps_time import gps_to_utc

HEAD_BYTES = 65536
"""How much of a file detection looks at: a preamble and some hundreds of lines fit in."""

OWN = "own"
"""`LogSettings.clock` of a log that counts on a clock of its own."""

GPS = "gps"
"""`LogSettings.clock` of a log whose dates and times are in GPS time, which no leap second
holds back. They are put on UTC as they are read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogSettings:
    """What the person who has the log knows and the log itself may not say.

    Parameters
    ----------
    date
        Day on which the log begins, for logs that give times of day alone; in `time_zone`
        where that is known, else in UTC.
    time_zone
        IANA name of the zone of times that carry no offset, such as `Europe/Helsinki`.
    clock
        `utc`, `gps` (dates and times in GPS time), `own` (tied to the others by clues), or None
        for what the format implies.
    clock_start
        The instant, with its zone, at which seconds since the start were nought.
    columns
        What a column holds, by its heading: `engine_speed.1 (rpm)`, `time (s)`, `event`.
    format
        Key of `READERS`, for a file whose content does not decide it.
    """

    date: dt.date | None = None
    time_zone: str | None = None
    clock: str | None = None
    clock_start: dt.datetime | None = None
    columns: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    format: str | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "columns", MappingProxyType(dict(self.columns)))
        if self.clock not in (None, UTC, GPS, OWN):
            raise LogFormatError(
                f"a log cannot be on the clock {self.clock!r}",
                key="clock",
                allowed=(UTC, GPS, OWN),
            )
        if self.clock == GPS and self.clock_start is not None:
            raise LogFormatError(
                "a log in GPS time has dates of its own, and its start in UTC is stated too",
                key="clock_start",
                advice="leave out one of the two: clock = 'gps', or the instant of its start",
            )
        if self.clock_start is not None and self.clock_start.tzinfo is None:
            raise LogFormatError(
                f"the start {self.clock_start.isoformat()} has no time zone",
                key="clock_start",
                advice="write its offset from UTC after it, such as +03:00 or Z",
            )

    def clock_name(self, name: str, *, implied: str = UTC) -> str:
        """The name of the clock that the log called `name` counts on."""
        clock = self.clock or (UTC if self.clock_start is not None else implied)
        return f"log:{name}" if clock == OWN else UTC

    def to_utc(self, t_s: Floats) -> Floats:
        """Dated times as the log has them, in seconds since 1970, put on UTC where they are in
        GPS time; all others as they are."""
        return gps_to_utc(t_s) if self.clock == GPS else t_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Reader:
    """One format: its key, its name in words, how it is known, and how it is read."""

    key: str
    text: str
    claims: Callable[[bytes], bool]
    read: Callable[[Path, str, LogSettings], Log]


def bounded(values: Floats, channel: str) -> tuple[Floats, int]:
    """Values with NaN for what is physically impossible, directions within a full turn.

    Returns
    -------
    values : [shape=(n,), SI]
    spikes
        How many were finite and out of the bounds of the channel's kind.
    """
    kind = CHANNELS[channel]
    given = ~np.isnan(values)
    with np.errstate(invalid="ignore"):
        good = np.isfinite(values) & (values >= kind.low) & (values <= kind.high)
    out = np.where(good, values, np.nan)
    return (np.mod(out, 2 * np.pi) if kind.turns else out), int(np.sum(given & ~good))


def read_bytes(path: Path) -> bytes:
    """All of a file, or one sentence on why it cannot be had.

    Raises
    ------
    LogFormatError
        Where the file is not there, is a folder, or may not be read.
    """
    try:
        return path.read_bytes()
    except OSError as error:
        raise LogFormatError(
            f"the log cannot be read ({error.strerror or error})",
            path=path,
            advice="check the path in the trial sheet",
        ) from error


def plural(count: int, one: str, many: str | None = None) -> str:
    """A count and its word: `1 line`, `2 lines`."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"
