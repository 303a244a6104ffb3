"""Readers of logs: one file a format, and `READERS`, the one table of them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

from sync.errors import EmptyLogError, LogFormatError
from sync.log import Log
from sync.readers import canbus, delimited, gpx, mdf, nmea0183, parquet
from sync.readers.base import HEAD_BYTES, LogSettings, Reader
from sync.readers.unsupported import KNOWN_UNSUPPORTED, unsupported

__all__ = ["KNOWN_UNSUPPORTED", "READERS", "LogSettings", "Reader", "detect", "read_log"]


def _is_table(head: bytes) -> bool:
    """Whether a file is a table and not messages of a bus, which have commas between them too."""
    return delimited.claims(head) and not canbus.claims(head)


READERS: Mapping[str, Reader] = MappingProxyType(
    {
        "nmea0183": Reader(
            key="nmea0183",
            text="NMEA 0183 sentences",
            claims=nmea0183.claims,
            read=nmea0183.read,
        ),
        "delimited": Reader(
            key="delimited",
            text="a table as comma, semicolon or tab separated text",
            claims=_is_table,
            read=delimited.read,
        ),
        "canbus": Reader(
            key="canbus",
            text="a CAN bus log (NMEA 2000 or J1939) as text, ASC, TRC or BLF",
            claims=canbus.claims,
            read=canbus.read,
        ),
        "gpx": Reader(
            key="gpx",
            text="a GPX track",
            claims=gpx.claims,
            read=gpx.read,
        ),
        "parquet": Reader(
            key="parquet",
            text="a Parquet table",
            claims=parquet.claims,
            read=parquet.read,
        ),
        "mdf": Reader(
            key="mdf",
            text="a measurement data file (MDF 4)",
            claims=mdf.claims,
            read=mdf.read,
        ),
    }
)
"""Every format that can be read, by its key."""


def detect(path: Path) -> Reader:
    """The reader of a file, by what stands in the beginning of it.

    Raises
    ------
    EmptyLogError
        Where the file is empty.
    LogFormatError
        Where it cannot be opened, no reader knows it, or two claim it.
    """
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
    except OSError as error:
        raise LogFormatError(
            f"the log cannot be read ({error.strerror or error})",
            path=path,
            advice="check the path in the trial sheet",
        ) from error
    if not head.strip(b" \t\r\n\0\xef\xbb\xbf"):
        raise EmptyLogError("the file is empty", path=path)
    known = unsupported(head)
    if known is not None:
        raise LogFormatError(
            f"this is {known.text}, which is not read", path=path, advice=known.advice
        )
    claimed = [reader for reader in READERS.values() if reader.claims(head)]
    if len(claimed) > 1:
        raise LogFormatError(
            f"the file could be {' or '.join(reader.text for reader in claimed)}",
            path=path,
            key="format",
            allowed=tuple(reader.key for reader in claimed),
            advice="state the format of this log in the trial sheet",
        )
    if not claimed:
        raise LogFormatError(
            "nothing here knows the format of this file",
            path=path,
            advice=f"a log can be {' or '.join(reader.text for reader in READERS.values())}",
        )
    return claimed[0]


def read_log(path: Path, *, name: str | None = None, settings: LogSettings | None = None) -> Log:
    """Read a log of any known format.

    Parameters
    ----------
    path
        The file.
    name
        What the trial calls it; the file's name without its ending where that is not given.
    settings
        What the file itself may not say: date, zone, clock, columns.

    Raises
    ------
    LogError
        Where the log cannot be used, with the reason.
    """
    settings = settings or LogSettings()
    if settings.format is None:
        reader = detect(path)
    elif settings.format in READERS:
        reader = READERS[settings.format]
    else:
        raise LogFormatError(
            f"{settings.format!r} is not a format",
            path=path,
            key="format",
            allowed=tuple(READERS),
        )
    return reader.read(path, name or path.stem, settings)
