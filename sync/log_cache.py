"""Logs that were read before, in the user's cache folder, so that they are not parsed again.

A log is known by its content, by what was asked of the reader, and by the program that read it:
its own source and the versions of the libraries that parse. So a log that was edited, a setting
that was changed and a reader that was mended are read afresh, however the file is dated. What is
found damaged in the cache is read afresh too, and a cache that cannot be written costs time and
nothing else. Logs that cannot be used are not kept: their errors are found anew.
"""

from __future__ import annotations

import hashlib
import json
import logging
import operator
import os
import sys
import zipfile
import zlib
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import asdict, fields
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import IO, Any

import numpy as np

from sync.arrays import Floats
from sync.cache_folder import cache_folder, keep, keep_last
from sync.channel import Channel
from sync.log import ClockReading, Log, Mark, RawColumn

FORMAT = "log/1"
FOLDER = "logs"

MOST = 200
"""So many logs are kept (own choice): a season's, at four or five a trial."""

MOST_BYTES = 500_000_000
"""And no more than this in all (own choice): an hour's logs take some ten megabytes."""

PARSERS = ("numpy", "pandas", "pyarrow", "pint", "pynmea2", "gpxpy", "python-can", "nmea2000",
           "asammdf", "pyproj", "tzdata")  # fmt: skip
"""Distributions whose version bears on what a reader makes of a file."""

_ROWS = ("t_s", "values")
_FACTS = tuple(one.name for one in fields(Channel) if one.init and one.name not in _ROWS)
_DAMAGED = (
    OSError, ValueError, KeyError, TypeError, AttributeError, EOFError, RuntimeError,
    zipfile.BadZipFile, zlib.error,
)  # fmt: skip
"""What a cache file can give that was cut short, changed, or written by something else."""

_log = logging.getLogger(__name__)


def kept_log(path: Path, name: str, asked: Mapping[str, Any], read: Callable[[], Log]) -> Log:
    """A log from the cache folder, else by `read`.

    Parameters
    ----------
    path, name
        The file, and what the trial calls it.
    asked
        All else that bears on what `read` makes of the file; `str` must tell its values apart.
    read
        Reads the file.

    Raises
    ------
    LogError
        Whatever `read` raises.
    """
    content = _hash_of(path)
    if content is None:
        return read()  # which will say what is wrong with the file
    known_by = [FORMAT, _program(), content, path.name, name, json.dumps(dict(asked), default=str)]
    key = hashlib.sha256("\0".join(known_by).encode("utf-8", "surrogateescape")).hexdigest()
    file = cache_folder() / FOLDER / f"{key[:40]}.npz"
    log = _load(file, path)
    if log is None:
        log = read()
        if _hash_of(path) == content:  # it may have been written to in the meantime
            _store(file, log)
    return log


def _hash_of(path: Path) -> str | None:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return None


@cache
def _program() -> str:
    """What tells the program that reads from any other: its source, and what it parses with."""
    digest = hashlib.sha256(sys.version.encode())
    for name in PARSERS:
        with suppress(PackageNotFoundError):
            digest.update(f"{name} {version(name)}\0".encode())
    here = Path(__file__).parent
    for path in sorted([*here.glob("*.py"), *here.glob("readers/**/*.py")]):
        digest.update(path.read_bytes())
    return digest.hexdigest()


def _load(file: Path, path: Path) -> Log | None:
    try:
        with file.open("rb") as stream, np.load(stream, allow_pickle=False) as rows:
            log = _unpacked(json.loads(str(rows["facts"])), rows, path)
        with suppress(OSError):
            os.utime(file)  # used now, so that it is among the last to go
    except FileNotFoundError:
        return None
    except _DAMAGED as error:
        _log.info("what is kept of %s in %s cannot be used (%s)", path, file, error)
        return None
    return log


def _unpacked(facts: dict[str, Any], rows: Mapping[str, Floats], path: Path) -> Log:
    columns = {name: rows[name] for name in facts["rows"]}
    channels = {
        key: Channel(**told, t_s=columns[times], values=columns[values])
        for key, (told, times, values) in facts["channels"].items()
    }
    return Log(
        name=facts["name"],
        path=path,
        format=facts["format"],
        clock=facts["clock"],
        channels=channels,
        marks=tuple(Mark(**one) for one in facts["marks"]),
        columns=tuple(RawColumn(**one) for one in facts["columns"]),
        counts=facts["counts"],
        warnings=tuple(facts["warnings"]),
        clock_readings=tuple(ClockReading(**one) for one in facts["clock_readings"]),
    )


def _packed(log: Log) -> dict[str, Any]:
    """Facts as JSON, and each row of numbers once: most channels of a log share their times."""
    names: dict[bytes, str] = {}
    rows: dict[str, Floats] = {}

    def place(row: Floats) -> str:
        name = names.setdefault(row.tobytes(), f"row{len(names)}")
        rows[name] = row
        return name

    channels = {
        key: ({one: getattr(channel, one) for one in _FACTS},
              place(channel.t_s), place(channel.values))
        for key, channel in log.channels.items()
    }  # fmt: skip
    facts = {
        "name": log.name,
        "format": log.format,
        "clock": log.clock,
        "channels": channels,
        "rows": list(rows),
        "marks": [asdict(one) for one in log.marks],
        "columns": [asdict(one) for one in log.columns],
        "counts": dict(log.counts),
        "warnings": list(log.warnings),
        "clock_readings": [asdict(one) for one in log.clock_readings],
    }
    # NumPy's whole numbers are no int to JSON.
    return {"facts": np.array(json.dumps(facts, default=operator.index)), **rows}


def _store(file: Path, log: Log) -> None:
    def write(stream: IO[bytes]) -> None:
        np.savez(stream, allow_pickle=False, **_packed(log))

    try:
        keep(file, write)
        keep_last(file.parent, most=MOST, most_bytes=MOST_BYTES)
    except OSError as error:
        _log.info("the log %s cannot be kept in %s (%s)", log.path, file, error)
