"""Logs read a second time: NMEA 0183, delimited tables and Parquet.

CAN buses, measurement data files and GPX are not read here, and what comes from them is told as
"not held against the log", with the reason.
"""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.logs.sentences import claims, read_sentences
from overlay.audit.recompute.logs.tables import decoded, read_parquet, read_table

if TYPE_CHECKING:
    from overlay.audit.recompute.recorded import Recorded
    from overlay.audit.recompute.sheet import LogEntry, Sheet

HEAD = 65_536

_OTHERS: tuple[tuple[bytes, str], ...] = (
    (b"MDF ", "a measurement data file"),
    (b"UnFinMF ", "a measurement data file"),
    (b"LOGG", "a log of a CAN bus"),
    (b"date ", "a log of a CAN bus"),
    (b"<?xml", "a file of positions in XML"),
    (b"<gpx", "a file of positions in XML"),
)


def read_log(entry: LogEntry, sheet: Sheet) -> tuple[dict[str, Recorded], bool]:
    """The channels of a log by key, on its own clock, and whether that is UTC.

    Raises
    ------
    CannotRecompute
        Where the log is of a format that is not read here, is gone, or is not understood.
    """
    try:
        return _read(entry, sheet)
    except (ValueError, LookupError, ArithmeticError, csv.Error) as error:
        said = " ".join(str(error).split())[:120]
        raise CannotRecompute(
            f"the log {entry.name!r} is not understood by the audit ({said})"
        ) from error


def _read(entry: LogEntry, sheet: Sheet) -> tuple[dict[str, Recorded], bool]:
    try:
        data = entry.path.read_bytes()
    except OSError as error:
        raise CannotRecompute(
            f"the log {entry.name!r} cannot be read ({error.strerror or error})"
        ) from error
    if data.startswith(b"PAR1"):
        return read_parquet(entry, sheet)
    for start, what in _OTHERS:
        if data.lstrip(b"\xef\xbb\xbf \r\n\t").startswith(start):
            raise CannotRecompute(
                f"the log {entry.name!r} is {what}, which the audit does not read"
            )
    if b"\0" in data[:512] and not data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise CannotRecompute(f"the log {entry.name!r} is of a format that the audit does not read")
    text = decoded(data)
    if claims(text[:HEAD]):
        return read_sentences(text, entry, sheet), True
    return read_table(text, entry, sheet)
