"""What lies in a folder: logs and footage, by their headers alone."""

from __future__ import annotations

import datetime as dt
import re
import tempfile
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from overlay.errors import SheetError
from sync.clock import UTC, Span
from sync.errors import FootageError, SyncError
from sync.log import Log
from sync.media import Footage, probe
from sync.readers import LogSettings, read_log

MOST_FILES = 2000
END_BYTES = 65536

ANY_DAY = dt.date(2000, 1, 1)
MADE_HERE = re.compile(
    r"clips|checks|.+\.series|(.+\.)?lineup|(.+\.)?report(-us|-nautical|-metric)?"
)
"""Folders beside a sheet that this program writes into."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """What lies in a folder: logs, those of them that give times of day alone, footage, and why
    each other file is neither."""

    logs: dict[Path, Log]
    dayless: frozenset[Path]
    films: dict[Path, Footage]
    strangers: tuple[str, ...]

    def spans(self) -> list[Span]:
        """When in UTC the logs are from, where they say so."""
        utc = [log for path, log in self.logs.items() if path not in self.dayless]
        return [log.span for log in utc if log.clock == UTC and log.span is not None]


def look_into(folder: Path) -> Seen:
    """Everything that lies in a folder and in those below it.

    Raises
    ------
    SheetError
        Where there are too many files to look at.
    """
    logs: dict[Path, Log] = {}
    films: dict[Path, Footage] = {}
    strangers: dict[Path, str] = {}
    for path in _files(folder):
        if _is_film(path):
            try:
                films[path] = probe(path)
            except FootageError as error:
                strangers[path] = str(error)
            continue
        try:
            logs[path] = glance(path, _date_in_name(path))
        except (SyncError, OSError) as error:
            strangers[path] = str(error)
    # Logs that give times of day alone take the day of those that know it; where none does, any
    # day shows what is in them.
    day = day_of([log.span for log in logs.values() if log.clock == UTC and log.span is not None])
    dayless = set()
    for path in list(strangers):
        with suppress(SyncError, OSError):
            logs[path] = glance(path, day or ANY_DAY)
            del strangers[path]
            dayless |= set() if day else {path}
    return Seen(
        logs=logs, dayless=frozenset(dayless), films=films, strangers=tuple(strangers.values())
    )


def _files(folder: Path) -> list[Path]:
    found: list[Path] = []
    for path in sorted(folder.rglob("*")):
        below = path.relative_to(folder).parts
        try:
            str(path).encode("utf-8")
        except UnicodeEncodeError:
            continue  # TOML could not name it
        made_here = len(below) > 1 and MADE_HERE.fullmatch(below[0])
        if any(part.startswith(".") for part in below) or made_here:
            continue
        if path.is_file() and path.suffix.lower() not in (".toml", ".json", ".md", ".parquet"):
            found.append(path)
        if len(found) > MOST_FILES:
            raise SheetError(
                f"there are more than {MOST_FILES} files here",
                path=folder,
                advice="name the folder of one trial",
            )
    return found


def _is_film(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            head = file.read(16)
    except OSError:
        return False  # whoever reads it as a log says why it cannot be read
    return (
        head[4:8] in (b"ftyp", b"moov", b"mdat", b"wide", b"free")
        or head.startswith(b"\x1aE\xdf\xa3")
        or (head.startswith(b"RIFF") and head[8:12] == b"AVI ")
        or (head[:1] == b"G" and path.suffix.lower() in (".ts", ".mts", ".m2ts"))
    )


def glance(path: Path, date: dt.date | None) -> Log:
    """A log read from its beginning and its end alone, so that a whole card takes no time.

    Raises
    ------
    LogError
        Where nothing reads it, with the path of the log itself.
    """
    settings = LogSettings(date=date)
    if path.stat().st_size <= 4 * END_BYTES:
        return read_log(path, settings=settings)
    with path.open("rb") as file:
        head = file.read(END_BYTES).rpartition(b"\n")[0]
        file.seek(-END_BYTES, 2)
        tail = file.read().partition(b"\n")[2]
    with tempfile.TemporaryDirectory() as place:
        ends = Path(place) / path.name
        ends.write_bytes(head + b"\n" + tail)
        try:
            return read_log(ends, settings=settings)
        except SyncError as error:
            error.path = path
            raise


def _date_in_name(path: Path) -> dt.date | None:
    match = re.search(r"(20\d\d)[-_]?(\d\d)[-_]?(\d\d)", path.name)
    if match is None:
        return None
    try:
        return dt.date(int(match[1]), int(match[2]), int(match[3]))
    except ValueError:
        return None


def day_of(spans: list[Span]) -> dt.date | None:
    """The day of the earliest of some stretches of UTC."""
    if not spans:
        return None
    return dt.datetime.fromtimestamp(min(span.start_s for span in spans), tz=dt.UTC).date()
