"""`trialreel new`: look at a folder, headers only, and write a trial sheet for it."""

from __future__ import annotations

import datetime as dt
import re
import tempfile
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from overlay.errors import OutputError, SheetError
from overlay.sheet.draft import Answers, FoundLog, FoundRecording, draft
from overlay.workflow.files import write_whole
from overlay.workflow.locate import SHEET_NAME
from sync.clock import UTC, Span, utc_text
from sync.errors import FootageError, SyncError, UnitError
from sync.log import Log
from sync.media import Footage, probe
from sync.media.chapters import suspected_slow
from sync.media.shots import Shot, shots_of
from sync.readers import LogSettings, read_log
from sync.units import parse_quantity

MOST_FILES = 2000
END_BYTES = 65536

ANY_DAY = dt.date(2000, 1, 1)
MADE_HERE = ("clips", "checks", "report")
"""Folders beside a sheet that this program writes into."""

Ask = Callable[[str], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class NewOutcome:
    """The sheet that was written, what it rests on, and what nobody could tell."""

    sheet_path: Path
    found: tuple[str, ...]
    unknown: tuple[str, ...]


def new(folder: Path, *, ask: Ask | None = None) -> NewOutcome:
    """Write `trial.toml` for a folder.

    Parameters
    ----------
    folder
        Where logs and footage lie, in it or in folders below.
    ask
        Asks the person a question and returns the answer; None where nobody can answer.

    Raises
    ------
    SheetError
        Where the folder is none, or holds nothing that can be used.
    OutputError
        Where there is a sheet already.
    """
    if not folder.is_dir():
        raise SheetError("this is not a folder", path=folder)
    sheet_path = folder / SHEET_NAME
    if sheet_path.exists():
        raise OutputError(
            "there is a trial sheet already",
            path=sheet_path,
            advice="edit it, or move it away to have a new one written",
        )
    seen = _look(folder)
    logs, films = seen.logs, seen.films
    if not logs and not films:
        raise SheetError(
            "no log and no footage was found",
            path=folder,
            advice=f"of what is there: {next(iter(seen.strangers))}" if seen.strangers else "",
        )
    spans = seen.spans()
    date = _day(spans)
    units = _units(logs)
    engines = _engines(logs)
    shots = shots_of(tuple(films.values()))
    names = unique_names(shot.films[0].path for shot in shots)
    recordings = tuple(
        _recording(name, shot, folder, spans) for name, shot in zip(names, shots, strict=True)
    )
    answers = _ask(ask)
    text = draft(
        name=folder.resolve().name,
        date=date,
        units=units,
        engines=engines,
        logs=tuple(
            _found_log(name, path, log, folder)
            for name, (path, log) in zip(unique_names(logs), logs.items(), strict=True)
        ),
        recordings=recordings,
        answers=answers,
    )
    write_whole(sheet_path, text.encode())
    return NewOutcome(
        sheet_path=sheet_path,
        found=_found(seen, shots, folder, recordings),
        unknown=(*_unknown(date, answers, films, recordings, logs), *seen.strangers),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Seen:
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


def _look(folder: Path) -> _Seen:
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
        except SyncError as error:
            strangers[path] = str(error)
    # Logs that give times of day alone take the day of those that know it; where none does, any
    # day shows what is in them.
    day = _day([log.span for log in logs.values() if log.clock == UTC and log.span is not None])
    dayless = set()
    for path in list(strangers):
        with suppress(SyncError):
            logs[path] = glance(path, day or ANY_DAY)
            del strangers[path]
            dayless |= set() if day else {path}
    return _Seen(
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
        if any(part.startswith(".") for part in below) or below[0].partition("-")[0] in MADE_HERE:
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


def _day(spans: list[Span]) -> dt.date | None:
    if not spans:
        return None
    return dt.datetime.fromtimestamp(min(span.start_s for span in spans), tz=dt.UTC).date()


def _units(logs: dict[Path, Log]) -> str:
    """The units that the tables' headings are in; knots where they say nothing."""
    signs = {column.unit for log in logs.values() for column in log.columns if column.unit}
    if signs & {"mph", "US gal/h", "gph"}:
        return "us"
    return "metric" if "km/h" in signs and "kn" not in signs else "nautical"


def _engines(logs: dict[Path, Log]) -> int:
    keys = {key for log in logs.values() for key in log.channels}
    return max(1, sum(key.startswith("engine_speed") for key in keys))


def unique_names(paths: Iterable[Path]) -> list[str]:
    """A name for each file, from its own without the ending; of two alike the later gets its
    folder in front, and a number where that does not help."""
    names: list[str] = []
    for path in paths:
        plain = " ".join(path.stem.replace("\\", "-").split()) or "file"
        name, number = plain, 2
        if name in names:
            name = f"{path.parent.name}-{plain}"
        while name in names:
            name, number = f"{plain}-{number}", number + 1
        names.append(name)
    return names


def _found_log(name: str, path: Path, log: Log, folder: Path) -> FoundLog:
    return FoundLog(
        name=name,
        file=PurePosixPath(path.relative_to(folder).as_posix()),
        format=log.format,
        own_clock=log.clock != UTC,
        channels=tuple(log.channels),
    )


def _recording(name: str, shot: Shot, folder: Path, spans: list[Span]) -> FoundRecording:
    first = shot.films[0]
    covers = False
    length_s = shot.duration_s
    if first.created is not None and length_s:
        start = first.created.timestamp()
        # A stamp may be the time of closing, and a camera's clock may be minutes out.
        possible = Span(start_s=start - length_s - 120, stop_s=start + length_s + 120)
        covers = any(possible.overlap(span) for span in spans)
    return FoundRecording(
        name=name,
        files=tuple(_below(film.path, folder) for film in shot.films),
        covers_log=covers,
        proxies=tuple(_below(film.path, folder) for film in shot.proxies),
    )


def _below(path: Path, folder: Path) -> PurePosixPath:
    return PurePosixPath(path.relative_to(folder).as_posix())


_QUESTIONS = (
    ("boat", "Boat", None),
    ("engine", "Engine", None),
    ("power", "Its power, such as 150 hp", "power"),
    ("cylinders", "Its cylinders", "count"),
    ("propeller", "Propeller", None),
    ("usable_tank", "Usable tank, such as 100 L", "volume"),
)


def _ask(ask: Ask | None) -> Answers:
    if ask is None:
        return Answers()
    given: dict[str, str] = {}
    for field, question, check in _QUESTIONS:
        answer = ask(question)
        while answer and (wrong := _wrong(answer, check)):
            answer = ask(f"{wrong}. {question}")
        given[field] = answer
    return Answers(**given)


def _wrong(answer: str, check: str | None) -> str:
    if check is None:
        return ""
    if check == "count":
        return "" if answer.isdigit() and 0 < int(answer) <= 24 else "That is no whole number"
    try:
        parse_quantity(answer, check)
    except UnitError as error:
        return str(error).rstrip(".")
    return ""


def _found(
    seen: _Seen,
    shots: tuple[Shot, ...],
    folder: Path,
    recordings: tuple[FoundRecording, ...],
) -> tuple[str, ...]:
    lines = []
    for path, log in seen.logs.items():
        when = "in UTC" if log.clock == UTC else "on its own clock"
        if path in seen.dayless:
            when = "times of day without a day"
        elif log.clock == UTC and log.span is not None:
            when = f"{utc_text(log.span.start_s, 0)} to {utc_text(log.span.stop_s, 0)}"
        what = ", ".join(log.channels) or "tie marks"
        lines.append(f"{path.relative_to(folder)}: {log.format}, {when}: {what}")
    for shot, found in zip(shots, recordings, strict=True):
        film = shot.films[0]
        length = f"{shot.duration_s:.0f} s" if shot.duration_s else "unknown length"
        overlap = "its stamp lies in the logs" if found.covers_log else "its stamp meets no log"
        first, *others = (str(path) for path in found.files)
        lines.append(f"{first}: footage {film.width}×{film.height}, {length}, {overlap}")
        if others:
            lines.append(f"{', '.join(others)}: taken for one recording with {first}")
        if found.proxies:
            small = ", ".join(str(path) for path in found.proxies)
            lines.append(f"{small}: taken for the same film in a smaller picture, as its proxy")
    lines += suspected_slow([film for shot in shots for film in shot.films])
    return tuple(lines)


def _unknown(
    date: dt.date | None,
    answers: Answers,
    films: dict[Path, Footage],
    recordings: tuple[FoundRecording, ...],
    logs: dict[Path, Log],
) -> tuple[str, ...]:
    lines = []
    if date is None:
        lines.append("the day: no log has a date (set `date`)")
    lines.append("the time zone of stamps that have none (set `time_zone`)")
    lines += [
        f"{question.split(',')[0].lower()} (left blank)"
        for field, question, _ in _QUESTIONS
        if not getattr(answers, field)
    ]
    lines.append("how late each channel is (set `delay` under `sensors`)")
    if films and not any(mark for log in logs.values() for mark in log.marks):
        lines.append(
            "how footage and logs lie to each other: no log has a tie mark; "
            "use `trialreel align RECORDING --frame N --utc T`"
        )
    lines += [
        f"where the recording {found.name!r} belongs: its stamp meets no log"
        for found in recordings
        if not found.covers_log
    ]
    return tuple(lines)
