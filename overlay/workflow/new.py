"""`trialreel new`: look at a folder, headers only, and write a trial sheet for it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from overlay.errors import OutputError, SheetError
from overlay.sheet.draft import Answers, FoundLog, FoundRecording, draft
from overlay.workflow.files import write_whole
from overlay.workflow.folder import Seen, day_of, look_into
from overlay.workflow.locate import SHEET_NAME
from sync.clock import UTC, Span, utc_text
from sync.errors import UnitError
from sync.log import Log
from sync.media import Footage
from sync.media.chapters import suspected_slow
from sync.media.shots import Shot, shots_of
from sync.units import parse_quantity

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
    seen = look_into(folder)
    logs, films = seen.logs, seen.films
    if not logs and not films:
        raise SheetError(
            "no log and no footage was found",
            path=folder,
            advice=f"of what is there: {next(iter(seen.strangers))}" if seen.strangers else "",
        )
    spans = seen.spans()
    date = day_of(spans)
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
    seen: Seen,
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
