"""The trial sheet as the audit reads it: by `tomllib`, and no more of it than it needs.

Whether a sheet is sound is the product's to say; what cannot be understood here is an answer
(`CannotRecompute`), and never a guess.
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any, Self

from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.unit_sets import SHOWN_UNITS, USUAL_LADDERS
from overlay.audit.recompute.units import unit

LATE_SD_S = MappingProxyType(
    dict.fromkeys(("speed", "engine_speed", "throttle", "fuel_flow"), 0.2)
    | dict.fromkeys(("turn_rate", "heading", "pitch", "roll", "acceleration"), 0.1)
)
"""What is not known of a delay that nobody stated, by channel (printed); else nothing."""

_QUANTITY = re.compile(r"\s*([-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?)\s*(\S.*?)\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class LogEntry:
    """One log of the sheet."""

    name: str
    path: Path
    clock: str | None
    clock_start_s: float | None
    columns: Mapping[str, str]
    format: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Late:
    """By how much a channel is late, one standard deviation of it, and whether the sheet says."""

    delay_s: float
    sd_s: float
    stated: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelCheck:
    """What filled the tank again after a stretch of UTC [m³]."""

    refilled_m3: float
    start_s: float
    stop_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What the audit needs of a trial sheet.

    Parameters
    ----------
    units, own_units
        The set that numbers are in, and the sheet's own.
    delays
        By log and channel, what the sheet states.
    ladder
        The sign of its unit and its speeds in that unit.
    named_runs
        Name, kind, start and stop in UTC of the runs that a person named.
    """

    path: Path
    name: str
    date: dt.date | None
    time_zone: str | None
    units: str
    own_units: str
    decimal_sign: str
    logs: tuple[LogEntry, ...]
    delays: Mapping[tuple[str, str], Late]
    ladder: tuple[str, tuple[float, ...]]
    launch_start: str
    time_to_plane: str
    plane_speed_mps: float | None
    bow_limit_rad: float | None
    test_mass_kg: float | None
    boat_length_m: float | None
    fuel_check: FuelCheck | None
    named_runs: tuple[tuple[str, str, float, float], ...]
    slow_motion: Mapping[str, float]

    def shown_unit(self, quantity: str) -> str | None:
        """The sign of the unit that the set writes a quantity in, if the sets differ."""
        return SHOWN_UNITS[self.units].get(quantity)

    def for_readers_of(self, units: object) -> Self:
        """The sheet for readers of another set of units, whose launches are timed through that
        set's usual speeds; the sheet as it is where there is no such set."""
        if units == self.units or not isinstance(units, str) or units not in SHOWN_UNITS:
            return self
        return replace(self, units=units, ladder=USUAL_LADDERS[units])

    def late(self, log: str, key: str) -> Late:
        """By how much a channel is late by the sheet alone: nought where it says nothing."""
        doubt = LATE_SD_S.get(key.partition(".")[0], 0.0)
        return self.delays.get((log, key)) or Late(delay_s=0.0, sd_s=doubt, stated=False)


def read_sheet(path: Path) -> Sheet:
    """A sheet from its file.

    Raises
    ------
    CannotRecompute
        Where it cannot be read, or something in it cannot be understood.
    """
    try:
        with path.open("rb") as file:
            plain = tomllib.load(file)
    except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise CannotRecompute(f"the trial sheet {path.name} cannot be read ({error})") from error
    try:
        return _sheet(plain, path)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise CannotRecompute(
            f"the trial sheet {path.name} is not understood by the audit ({error})"
        ) from error


def _sheet(plain: Mapping[str, Any], path: Path) -> Sheet:
    units = plain.get("units", "nautical")
    if units not in SHOWN_UNITS:
        raise CannotRecompute(f"the audit knows no set of units called {units!r}")
    ladder = plain.get("ladder")
    choices, load = plain.get("definitions", {}), plain.get("load", {})
    return Sheet(
        path=path,
        name=plain.get("name", "trial"),
        date=plain.get("date"),
        time_zone=plain.get("time_zone"),
        units=units,
        own_units=units,
        decimal_sign=plain.get("decimal_sign", "."),
        logs=tuple(_log(row, path.parent) for row in plain.get("logs", [])),
        delays=MappingProxyType(dict(_delays(plain.get("sensors", [])))),
        ladder=USUAL_LADDERS[units]
        if ladder is None
        else (unit(ladder["unit"], "speed").sign, tuple(map(float, ladder["speeds"]))),
        launch_start=choices.get("launch_start", "throttle_or_engine"),
        time_to_plane=choices.get("time_to_plane", "two_thirds"),
        plane_speed_mps=_maybe(choices.get("plane_speed"), "speed"),
        bow_limit_rad=_maybe(choices.get("bow_limit"), "angle"),
        test_mass_kg=_maybe(load.get("test_mass"), "mass"),
        boat_length_m=_maybe(plain.get("boat", {}).get("length"), "length"),
        fuel_check=_fuel_check(plain.get("fuel_check")),
        named_runs=tuple(
            (row["name"], row.get("kind", "launch"), instant(row["start"]), instant(row["stop"]))
            for row in plain.get("runs", [])
        ),
        slow_motion=MappingProxyType(
            {row["name"]: float(row.get("slow_motion", 1)) for row in plain.get("recordings", [])}
        ),
    )


def _log(row: Mapping[str, Any], folder: Path) -> LogEntry:
    start = row.get("clock_start")
    return LogEntry(
        name=row["name"],
        path=folder / row["file"],
        clock=row.get("clock"),
        clock_start_s=None if start is None else instant(start),
        columns=MappingProxyType(dict(row.get("columns", {}))),
        format=row.get("format"),
    )


def _delays(rows: list[Mapping[str, Any]]) -> list[tuple[tuple[str, str], Late]]:
    found = []
    for row in rows:
        if row.get("delay") is None:
            continue
        key, sd = row["channel"], row.get("delay_sd")
        doubt = LATE_SD_S.get(key.partition(".")[0], 0.0)
        late = Late(
            delay_s=quantity(row["delay"], "time"),
            sd_s=doubt if sd is None else quantity(sd, "time"),
            stated=True,
        )
        found.append(((row["log"], key), late))
    return found


def _fuel_check(row: Mapping[str, Any] | None) -> FuelCheck | None:
    if row is None:
        return None
    return FuelCheck(
        refilled_m3=quantity(row["refilled"], "volume"),
        start_s=instant(row["start"]),
        stop_s=instant(row["stop"]),
    )


def quantity(text: str, what: str) -> float:
    """A quantity of the sheet in SI: `0.20 s`, `1180 kg`, `27 US gal`."""
    match = _QUANTITY.fullmatch(text)
    if match is None:
        raise CannotRecompute(f"the audit cannot read the quantity {text!r} of the trial sheet")
    return unit(match[2], what).to_si(float(match[1]))


def _maybe(text: str | None, what: str) -> float | None:
    return None if text is None else quantity(text, what)


def instant(value: dt.datetime | str) -> float:
    """Seconds since 1970 of a time that knows its zone."""
    when = dt.datetime.fromisoformat(value) if isinstance(value, str) else value
    if when.tzinfo is None:
        raise CannotRecompute(f"the time {when.isoformat()} of the trial sheet has no zone")
    return when.timestamp()
