"""`trialreel check`: what is there, what is odd about it, and what cannot be had from it."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from overlay.errors import FaceplateError
from overlay.graphics.faceplate import load_faceplate
from overlay.sheet import TrialSheet
from overlay.trial import Material, read_material
from overlay.workflow.locate import find_sheet
from overlay.workflow.outputs import faceplate_name
from sync.clock import UTC, Span
from sync.log import Channel, Log
from sync.media import Footage


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelReport:
    """One channel: how often it speaks, how often it is silent."""

    key: str
    source: str
    rate_hz: float
    samples: int
    without_value: int
    holes: tuple[Span, ...]
    stuck: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LogReport:
    """One log: its format, clock and span, its channels, and what was odd."""

    name: str
    path: Path
    format: str
    clock: str
    span: Span | None
    channels: tuple[ChannelReport, ...]
    marks: tuple[str, ...]
    counts: tuple[tuple[str, int], ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FootageReport:
    """One recording."""

    name: str
    path: Path
    width_px: int
    height_px: int
    rate_hz: float
    duration_s: float
    codec: str
    sound: str
    created: str
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckOutcome:
    """What `check` found; `cannot` lists the figures that will be missing and why."""

    sheet_path: Path
    name: str
    logs: tuple[LogReport, ...]
    footage: tuple[FootageReport, ...]
    unreadable: tuple[str, ...]
    cannot: tuple[str, ...]


def check(sheet: Path) -> CheckOutcome:
    """Read everything that a sheet lists and say what it amounts to.

    Raises
    ------
    TrialReelError
        For the first thing that cannot be used at all.
    """
    material = read_material(find_sheet(sheet))
    return CheckOutcome(
        sheet_path=material.sheet_path,
        name=material.sheet.name,
        logs=tuple(_log_report(log) for log in material.logs.values()),
        footage=tuple(_footage_report(name, film) for name, film in material.footage.items()),
        unreadable=tuple(str(error) for error in material.unreadable.values()),
        cannot=_cannot(material),
    )


def _log_report(log: Log) -> LogReport:
    return LogReport(
        name=log.name,
        path=log.path,
        format=log.format,
        clock=log.clock,
        span=log.span,
        channels=tuple(_channel_report(channel) for channel in log.channels.values()),
        marks=tuple(mark.label for mark in log.marks),
        counts=tuple(sorted(log.counts.items())),
        warnings=log.warnings,
    )


def _channel_report(channel: Channel) -> ChannelReport:
    good = np.isfinite(channel.values)
    values = channel.values[good]
    period = channel.period_s
    return ChannelReport(
        key=channel.key,
        source=channel.source,
        rate_hz=1 / period if math.isfinite(period) else math.nan,
        samples=int(values.size),
        without_value=int(channel.values.size - values.size),
        holes=channel.holes(),
        # A sensor that is alive has noise in its last digit.
        stuck=values.size > 100 and float(np.ptp(values)) == 0.0 and channel.name != "gear",
    )


def _footage_report(name: str, film: Footage) -> FootageReport:
    sound = ", ".join(f"{t.codec} {t.layout} {t.rate_hz / 1000:g} kHz" for t in film.sound)
    return FootageReport(
        name=name,
        path=film.path,
        width_px=film.width,
        height_px=film.height,
        rate_hz=float(film.average_rate_hz) if film.average_rate_hz else math.nan,
        duration_s=film.duration_s if film.duration_s is not None else math.nan,
        codec=film.codec,
        sound=sound or "none",
        created=film.created.isoformat() if film.created else "not stated",
        warnings=film.warnings,
    )


_WANTED = (
    ("speed", "speed, launches and every figure that rests on them"),
    ("engine_speed", "engine speed"),
    ("fuel_flow", "fuel flow, economy and range"),
    ("pitch", "bow angle"),
)


def _cannot(material: Material) -> tuple[str, ...]:
    sheet: TrialSheet = material.sheet
    there = {key for log in material.logs.values() for key in log.channels}
    lines = [
        f"{figure}: no log has the channel {channel!r}"
        for channel, figure in _WANTED
        if channel not in there
    ]
    if "fuel_flow" in there and sheet.load.usable_tank is None:
        lines.append("range and endurance: the sheet has no load.usable_tank")
    if "engine_speed" in there and not any(engine.rated_rpm for engine in sheet.engines):
        lines.append("engine speed against its rated band: the sheet has no engines.rated_rpm")
    lines += [
        f"the clap in {name!r}: the recording has no sound"
        for name, film in material.footage.items()
        if not film.sound
    ]
    delays = {(one.log, one.channel) for one in sheet.sensors if one.delay is not None}
    for log in material.logs.values():
        for key in ("speed", "engine_speed"):
            if key in log.channels and (log.name, key) not in delays:
                lines.append(
                    f"how late {key} is: the sheet states no delay for it in the log "
                    f"{log.name!r}, so it is taken as none, give or take 0.2 s"
                )
    lines += _other_days(material)
    lines += _faceplates(material)
    return tuple(lines)


def _other_days(material: Material) -> list[str]:
    """Logs that know their day and were not written on the sheet's."""
    sheet = material.sheet
    if sheet.date is None:
        return []
    zone = ZoneInfo(sheet.time_zone or "UTC")
    lines = []
    for log in material.logs.values():
        if log.clock != UTC or log.span is None:
            continue
        days = {
            dt.datetime.fromtimestamp(t, tz=zone).date()
            for t in (log.span.start_s, log.span.stop_s)
        }
        if sheet.date not in days:
            lines.append(f"the log {log.name!r} is of {min(days)}, and the sheet of {sheet.date}")
    return lines


def _faceplates(material: Material) -> list[str]:
    """Clips whose faceplate cannot be used."""
    lines = []
    for clip in material.sheet.clips:
        try:
            load_faceplate(faceplate_name(clip, material.folder))
        except FaceplateError as error:
            lines.append(f"the clip {clip.name!r}: {str(error).rstrip('.')}")
    return lines
