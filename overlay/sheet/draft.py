"""A first trial sheet for a folder of logs and footage, written so that a person goes on in it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any

import tomlkit

from overlay.sheet.model import SCHEMA

if TYPE_CHECKING:
    from tomlkit.items import Table


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundLog:
    """A log as a glance at its beginning and end shows it."""

    name: str
    file: PurePosixPath
    format: str
    own_clock: bool
    channels: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundRecording:
    """A recording as the headers of its files show it, with their twins in small pictures."""

    name: str
    files: tuple[PurePosixPath, ...]
    covers_log: bool
    proxies: tuple[PurePosixPath, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What only the crew knows; empty text where they left it blank."""

    boat: str = ""
    engine: str = ""
    power: str = ""
    cylinders: str = ""
    propeller: str = ""
    usable_tank: str = ""


def draft(
    *,
    name: str,
    date: dt.date | None,
    units: str,
    engines: int,
    logs: tuple[FoundLog, ...],
    recordings: tuple[FoundRecording, ...],
    answers: Answers,
) -> str:
    """The text of a new trial sheet."""
    document = tomlkit.document()
    document.add(tomlkit.comment("Trial sheet. Blanks cost the figures that need them, no more."))
    document["schema"] = SCHEMA
    document["name"] = name
    if date is not None:
        document["date"] = date
    else:
        document.add(tomlkit.comment("date = 2026-06-11"))
    document.add(tomlkit.comment('time_zone = "Europe/Helsinki"   # of stamps without a zone'))
    document["units"] = units
    document["reserve"] = 0.1
    document["boat"] = _boat(answers)
    document["engines"] = _engines(engines, answers)
    document["propeller"] = _table({"name": answers.propeller}, {"pitch": "19 in"})
    document["load"] = _table(
        {"usable_tank": answers.usable_tank},
        {"people": 2, "fuel": "60 L", "ethanol": "10 %", "usable_tank": "100 L"},
    )
    weather = {
        "wind": "6 kn",
        "air_temperature": "17 °C",
        "pressure": "1013 hPa",
        "humidity": "60 %",
    }
    document["conditions"] = _table({}, weather)
    document["logs"] = _logs(logs)
    document["sensors"] = _sensors(logs)
    if recordings:
        document["recordings"] = _recordings(recordings)
        document["clips"] = _clips(recordings)
    return tomlkit.dumps(document)


def _table(given: dict[str, Any], examples: dict[str, Any]) -> Table:
    """A table with what is known, and examples of the rest as comments."""
    table = tomlkit.table()
    for key, value in given.items():
        if value:
            table[key] = value
    for key, value in examples.items():
        if not given.get(key):
            shown = f'"{value}"' if isinstance(value, str) else str(value)
            table.add(tomlkit.comment(f"{key} = {shown}"))
    return table


def _boat(answers: Answers) -> Table:
    examples = {"length": "6.4 m", "beam": "2.3 m", "mass": "1450 kg", "deadrise": "20 deg"}
    return _table({"name": answers.boat}, examples)


def _engines(engines: int, answers: Answers) -> Any:
    array = tomlkit.aot()
    for _ in range(max(engines, 1)):
        given: dict[str, Any] = {"name": answers.engine, "power": answers.power}
        if answers.cylinders:
            given["cylinders"] = int(answers.cylinders)
        examples = {
            "power": "150 hp",
            "rated_rpm": [5000, 6000],
            "gear_ratio": 2.0,
            "cylinders": 4,
            "strokes": 4,
        }
        array.append(_table(given, examples))
    return array


def _logs(logs: tuple[FoundLog, ...]) -> Any:
    array = tomlkit.aot()
    for log in logs:
        table = tomlkit.table()
        table["name"] = log.name
        table["file"] = str(log.file)
        if log.own_clock:
            table["clock"] = "own"
            table["clock"].comment("tied to the others by a shared tie mark")
        array.append(table)
    return array


def _sensors(logs: tuple[FoundLog, ...]) -> Any:
    array = tomlkit.aot()
    for log in logs:
        if "speed" in log.channels:
            table = tomlkit.table()
            table["log"] = log.name
            table["channel"] = "speed"
            usual = "# receivers filter speed: 0.1 to 0.3 s is usual"
            table.add(tomlkit.comment(f'delay = "0.2 s"   {usual}'))
            table.add(tomlkit.comment('delay_sd = "0.05 s"'))
            array.append(table)
    return array


def _recordings(recordings: tuple[FoundRecording, ...]) -> Any:
    array = tomlkit.aot()
    for recording in recordings:
        table = tomlkit.table()
        table["name"] = recording.name
        table["files"] = [str(file) for file in recording.files]
        if recording.proxies:
            table["proxies"] = [str(file) for file in recording.proxies]
        table.add(tomlkit.comment('clap_distance = "1.5 m"   # from the clap to the microphone'))
        table.add(tomlkit.comment("slow_motion = 4           # plays so many times slower"))
        table.add(tomlkit.comment('clap_at = "5.2 s"         # where in the footage the clap is'))
        array.append(table)
    return array


def _clips(recordings: tuple[FoundRecording, ...]) -> Any:
    array = tomlkit.aot()
    for recording in recordings:
        if not recording.covers_log and len(recordings) > 1:
            continue
        table = tomlkit.table()
        table["name"] = recording.name
        table["recording"] = recording.name
        table.add(tomlkit.comment('run = "launch 1"   # as `trialreel results` names them'))
        array.append(table)
    return array
