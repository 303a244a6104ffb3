"""What to see to: first what only the water can mend, then what the desk can."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType
from zoneinfo import ZoneInfo

from overlay.report.words import course
from overlay.sheet.model import Sensor
from overlay.trial import Material
from overlay.workflow.checking.model import (
    ClockReport,
    Concern,
    LogReport,
    RecordingReport,
    RunReport,
)
from overlay.workflow.checking.passes import lone_launches, lone_steps
from overlay.workflow.checking.runs import whole_in_none
from overlay.workflow.checking.words import listed, places, sentence, spoken, when
from sync.clock import UTC

AT_THE_DESK = ("tilted", "sagging", "slow")
"""Rules whose ailments cost digits and not runs."""


def concerns(
    material: Material,
    logs: Sequence[LogReport],
    clocks: Sequence[ClockReport],
    runs: Sequence[RunReport],
    recordings: Sequence[RecordingReport],
    *,
    lost: Sequence[Sensor],
    films: Sequence[str] = (),
) -> tuple[Concern, ...]:
    """Everything to see to, the worst first, once each.

    Parameters
    ----------
    lost
        Sensors of the sheet whose channel is not in their log.
    films
        Remarks on files that may be one recording, or in slow motion.
    """
    found = [
        *_unusable(material),
        *_wrong_day(material, logs),
        *_lost(lost, logs),
        *_sensors(logs, material.sheet.time_zone or "UTC"),
        *_untied(clocks, recordings),
        *_passes(runs),
        *_unfilmed(runs, recordings),
        *(_desk(remark) for remark in films),
    ]
    ranked = sorted(found, key=lambda one: one.where == "desk")
    return tuple(dict.fromkeys(ranked))


def _water(text: str) -> Concern:
    return Concern(where="water", text=sentence(text))


def _desk(text: str) -> Concern:
    return Concern(where="desk", text=sentence(text))


def _unusable(material: Material) -> Iterator[Concern]:
    for name, error in material.unreadable.items():
        reason = str(error).rstrip(".")
        yield _water(
            f"the recording {name!r} cannot be used: {reason}. Copy it again while the card is here"
        )


def _wrong_day(material: Material, logs: Sequence[LogReport]) -> Iterator[Concern]:
    """Logs that know their day and were not written on the sheet's."""
    day = material.sheet.date
    zone = ZoneInfo(material.sheet.time_zone or "UTC")
    for log in logs:
        if day is None or log.clock != UTC or log.span is None:
            continue
        ends = (log.span.start_s, log.span.stop_s)
        days = {dt.datetime.fromtimestamp(t, tz=zone).date() for t in ends}
        if day not in days:
            yield _water(
                f"the log {log.name!r} is of {min(days)}, and the sheet of {day}. Was the right "
                "file copied from the logger"
            )


def _lost(lost: Sequence[Sensor], logs: Sequence[LogReport]) -> Iterator[Concern]:
    """Channels that the sheet knows a delay of and that no log has."""
    for sensor in lost:
        there = [c.key for log in logs if log.name == sensor.log for c in log.channels]
        yield _water(
            f"the sheet gives a delay for {sensor.channel!r}, and the log {sensor.log!r} has no "
            f"value of it, only of {listed(there, most=8)}"
            if there
            else f"the sheet gives a delay for {sensor.channel!r}, and the log {sensor.log!r} has "
            "no channel at all"
        )


def _sensors(logs: Sequence[LogReport], zone: str) -> Iterator[Concern]:
    for log in logs:
        clock = UTC if log.tied else log.clock
        for channel in log.channels:
            for one in channel.ailments:
                at = "" if one.span is None else f", at {when(one.span.start_s, clock, zone)}"
                text = f"{spoken(channel.key)} in {log.name!r} {one.text}{at}"
                text += f": {REMEDIES.get(one.rule, LOOK)}"
                yield _desk(text) if one.rule in AT_THE_DESK else _water(text)
            if channel.key == "speed" and channel.holes:
                held = places(channel.holes, clock, zone)
                yield _desk(f"speed in {log.name!r} has holes: {held}")
        for warning in log.warnings:
            if warning.endswith("holds no value"):
                yield _water(f"in the log {log.name!r} {warning}. Look at the sensor's plug")


REMEDIES: Mapping[str, str] = MappingProxyType(
    {
        "unrelated": "is it the log of this boat and this day, on the right clock?",
        "speed_without_engine": "is it the log of this boat and this day, on the right clock?",
        "engine_without_speed": "is it the log of this boat and this day, on the right clock?",
        "moved": "is its bracket fast, or did people change places?",
        "breaks_off": "was it switched off, or its memory full?",
        "repeated": "what stood in its place is lost, so run that again.",
        "frozen_position": "courses and distances of that stretch are lost.",
        "tilted": "each launch is levelled by the rest before it, heel is not.",
    }
)
"""By rule, what to do or to ask; for all others to look at the sensor."""

LOOK = "look at the sensor, and run again what it missed."


def _untied(
    clocks: Sequence[ClockReport], recordings: Sequence[RecordingReport]
) -> Iterator[Concern]:
    there = {f"footage:{one.name}" for one in recordings}
    for one in clocks:
        # A recording that cannot be read is named already.
        if one.refused is not None and (one.clock.startswith("log:") or one.clock in there):
            yield _water(f"{one.text} has no tie to the other clocks: {one.refused}")


def _passes(runs: Sequence[RunReport]) -> Iterator[Concern]:
    if not any(run.kind in ("launch", "step") for run in runs):
        yield _water("no launch and no steady step was found in the logs")
        return
    launches = lone_launches(runs)
    if launches:
        ways = listed(dict.fromkeys(course(run.course_rad) for run in launches))
        many = "the only launch went" if len(launches) == 1 else "all launches went"
        yield _water(
            f"{many} one way ({ways}), so current and wind are in its times. Run one the other way"
            if len(launches) == 1
            else f"{many} one way ({ways}), so current and wind are in their times. Run one the "
            "other way"
        )
    steps = lone_steps(runs)
    if steps:
        told = listed((f"{run.name} on {course(run.course_rad)}" for run in steps), most=8)
        was = "was" if len(steps) == 1 else "were"
        yield _water(f"{told} {was} run one way only. Run the way back")


def _unfilmed(
    runs: Sequence[RunReport], recordings: Sequence[RecordingReport]
) -> Iterator[Concern]:
    if not recordings or any(one.shot is None for one in recordings):
        return  # what is not tied may have filmed them
    missed = whole_in_none(runs)
    if missed:
        yield _water(f"no recording has the whole of {listed(run.name for run in missed)}")
