"""A trial: its sheet, with its logs and recordings, first as they came and then on one clock."""

from __future__ import annotations

import difflib
import logging
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from overlay.delays import Delay, contradicted, delay_of, with_delay
from overlay.errors import SheetError
from overlay.fuel import FlowSource, flows_of
from overlay.sheet import TrialSheet, load_sheet
from sync.channel import Channel
from sync.clock import UTC, ClockMap, Span, utc_seconds
from sync.errors import LogError, TrialReelError
from sync.log import Log, Mark
from sync.log_cache import kept_log

if TYPE_CHECKING:
    from overlay.sheet.model import LogEntry
    from overlay.sheet.recording import Recording
    from sync.media import Footage
    from sync.tie import Ties

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Material:
    """What a crew brought home, read but not yet on one clock.

    `logs` and `footage` are by their names in the sheet; `unreadable` has the recordings that
    cannot be used, each with the reason, for one broken card must not hold up the others.
    """

    sheet_path: Path
    sheet: TrialSheet
    logs: Mapping[str, Log]
    footage: Mapping[str, Footage]
    unreadable: Mapping[str, TrialReelError] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def folder(self) -> Path:
        """Where the sheet lies, and whatever it names is looked for."""
        return self.sheet_path.parent

    def marks(self) -> tuple[Mark, ...]:
        """All tie marks: those in the logs and those that the sheet has typed."""
        found = [mark for log in self.logs.values() for mark in log.marks]
        found += [
            Mark(
                label=mark.label.strip().lower(),
                clock=UTC,
                t_s=utc_seconds(mark.utc),
                sd_s=0.05 if mark.sd is None else mark.sd,
                source="sheet",
                typed=True,
            )
            for mark in self.sheet.marks
        ]
        return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """A trial with everything that could be tied on UTC.

    `channels` are by key, timely; where two logs offer one channel the log that stands first
    in the sheet has it. `delays` are what was taken out of their times, `flow`
    is where fuel flow comes from, and `notes` say in words what was left out and why.
    """

    material: Material
    ties: Ties
    channels: Mapping[str, Channel]
    sources: Mapping[str, str]
    delays: Mapping[str, Delay]
    flow: FlowSource
    notes: tuple[str, ...]

    @property
    def sheet(self) -> TrialSheet:
        """The trial's sheet."""
        return self.material.sheet

    def footage_to_utc(self, recording: str) -> ClockMap:
        """From a recording's film time to UTC.

        ::

            t_utc = offset + rate / slow_motion * t_film

        Raises
        ------
        TieRefused
            Where the recording is not tied.
        """
        to_utc = self.ties.to_utc(footage_clock(recording))
        slower = slowness(recording_entry(self.sheet, recording))
        return to_utc if slower == 1 else replace(to_utc, rate=to_utc.rate / slower)


def footage_clock(recording: str) -> str:
    """The name of a recording's clock, which counts the seconds that its camera lived through."""
    return f"footage:{recording}"


def recording_entry(sheet: TrialSheet, name: str) -> Recording:
    """A recording's entry in the sheet."""
    return next(entry for entry in sheet.recordings if entry.name == name)


def slowness(entry: Recording) -> float:
    """How many seconds of film show one second of life: 1, or more in slow motion."""
    return 1.0 if entry.slow_motion is None else entry.slow_motion


def life_s(entry: Recording, film_s: float) -> float:
    """An instant or a length of film in the seconds that the camera lived through.

    ::

        t_life = t_film / slow_motion

    Film time is a time stamp times its time base, as the file plays. Ties stand on life time,
    so that the clock of a camera in slow motion runs as true as any other.
    """
    return film_s / slowness(entry)


def read_material(sheet_path: Path, *, with_footage: bool = True) -> Material:
    """Read the sheet and all that it lists.

    Raises
    ------
    SheetError, LogError
        For the first thing that cannot be used; a recording that cannot is kept apart.
    """
    sheet_path = Path(sheet_path)
    sheet = load_sheet(sheet_path)
    folder = sheet_path.parent
    logs = {entry.name: _read_log(entry, sheet, folder, sheet_path) for entry in sheet.logs}
    footage: dict[str, Footage] = {}
    unreadable: dict[str, TrialReelError] = {}
    for entry in sheet.recordings if with_footage else ():
        try:
            footage[entry.name] = read_footage(entry, folder, sheet_path)
        except TrialReelError as error:
            unreadable[entry.name] = error
    return Material(
        sheet_path=sheet_path,
        sheet=sheet,
        logs=MappingProxyType(logs),
        footage=MappingProxyType(footage),
        unreadable=MappingProxyType(unreadable),
    )


def read_footage(entry: Recording, folder: Path, sheet_path: Path) -> Footage:
    """Probe the files of one recording and put them in a row, and its proxies beside them.

    Raises
    ------
    SheetError
        Where a file does not exist.
    FootageError
        Where one is no footage, is no part of one recording with the others, or is no twin.
    """
    from sync.media import join, probe, with_proxies

    def films(names: list[str], key: str) -> list[Footage]:
        return [probe(_existing(name, folder, sheet_path, key)) for name in names]

    footage = join(films(entry.files, "recordings.files"))
    if not entry.proxies:
        return footage
    return with_proxies(footage, films(entry.proxies, "recordings.proxies"))


def _read_log(entry: LogEntry, sheet: TrialSheet, folder: Path, sheet_path: Path) -> Log:
    path = _existing(entry.file, folder, sheet_path, "logs.file")
    asked: dict[str, Any] = {
        "date": sheet.date,
        "time_zone": sheet.time_zone,
        "format": entry.format,
        "clock": entry.clock,
        "clock_start": entry.clock_start,
        "columns": entry.columns,
    }

    def read() -> Log:
        from sync.readers import LogSettings, read_log  # late: only where a log is not kept

        return read_log(path, name=entry.name, settings=LogSettings(**asked))

    log = kept_log(path, entry.name, asked, read)
    _log.info("read %s as %s: %s", path, log.format, ", ".join(log.channels) or "marks")
    return log


def _existing(name: str, folder: Path, sheet_path: Path, key: str) -> Path:
    path = folder / name
    try:
        there, a_folder = path.is_file(), path.is_dir()
    except OSError as error:
        raise SheetError(
            f"the file {name[:40]!r} cannot be looked for ({error.strerror})",
            path=sheet_path,
            key=key,
        ) from error
    if not there:
        what = "is a folder" if a_folder else "does not exist"
        raise SheetError(
            f"the file {name!r} {what}",
            path=sheet_path,
            key=key,
            advice=_near(name, folder),
        )
    return path


def _near(name: str, folder: Path) -> str:
    """The file that was probably meant, or where it is looked for."""
    place = (folder / name).parent
    names = [path.name for path in place.iterdir()] if place.is_dir() else []
    near = difflib.get_close_matches(Path(name).name, names, n=1, cutoff=0.6)
    if near:
        return f"did you mean '{Path(name).with_name(near[0]).as_posix()}'"
    return f"files are looked for from the sheet's folder, {folder.absolute()}"


def build_trial(material: Material, ties: Ties) -> Trial:
    """Put every log that is tied on UTC, each channel's delay taken out.

    Raises
    ------
    LogError
        Where the sheet's `sensors` name a channel that its log does not have.
    """
    sheet = material.sheet
    channels: dict[str, Channel] = {}
    sources: dict[str, str] = {}
    notes: list[str] = []
    delays: dict[str, Delay] = {}
    for log in material.logs.values():
        if log.clock != UTC and log.clock not in ties.by_clock:
            why = ties.refused.get(log.clock, "nothing ties it")
            if log.channels:
                notes.append(f"the log {log.name!r} is left out: {why}")
            continue
        to_utc = ties.to_utc(log.clock)
        for channel in log.channels.values():
            if channel.key in channels:
                notes.append(
                    f"{channel.key} is taken from {sources[channel.key]!r}; {log.name!r} has it too"
                )
                continue
            sources[channel.key] = log.name
            late = delay_of(channel, log.name, sheet, ties)
            delays[channel.key] = late
            notes += _about_delay(channel, log.name, sheet, ties)
            channels[channel.key] = with_delay(channel, late).on(to_utc).timely()
    _check_sensors(material)
    channels, flow, about_flow = flows_of(channels, sheet)
    for key in channels.keys() - sources.keys():  # what was worked out of another channel
        of = key.replace("fuel_flow", "fuel_supply")
        sources[key], delays[key] = sources[of], delays[of]
    return Trial(
        material=material,
        ties=ties,
        channels=MappingProxyType(channels),
        sources=MappingProxyType(sources),
        delays=MappingProxyType(delays),
        flow=flow,
        notes=(*notes, *about_flow),
    )


def _about_delay(channel: Channel, log: str, sheet: TrialSheet, ties: Ties) -> list[str]:
    """What there is to say of a delay that the sheet alone does not settle."""
    late = delay_of(channel, log, sheet, ties)
    odd = contradicted(channel, log, sheet, ties)
    if late.origin == "estimated":
        odd = (
            f"{channel.key} in {log!r} is taken to be {late.delay_s:.2f} ± {late.sd_s:.2f} s "
            "late, as the clues together have it: the sheet states no delay for it"
        )
    return [] if odd is None else [odd]


def _check_sensors(material: Material) -> None:
    for sensor in material.sheet.sensors:
        log = material.logs[sensor.log]
        if sensor.channel not in log.channels:
            raise LogError(
                f"the sheet gives a delay for {sensor.channel!r}, which is not in the log "
                f"{sensor.log!r}",
                path=log.path,
                allowed=tuple(log.channels),
            )


def log_span(trial: Trial) -> Span | None:
    """The stretch of UTC that the logs cover."""
    spans = [span for channel in trial.channels.values() if (span := channel.span)]
    if not spans:
        return None
    return Span(
        start_s=min(span.start_s for span in spans), stop_s=max(span.stop_s for span in spans)
    )
