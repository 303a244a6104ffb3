"""What was tested, as the sheet states it: nothing is told that the sheet lacks."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from overlay.figures import unit_for
from overlay.report.columns import Column, Table, make_table, rounded, words
from overlay.report.words import course
from sync.units import from_si

if TYPE_CHECKING:
    from pydantic import BaseModel

    from overlay.sheet import TrialSheet

Form = Callable[[Any, str], str]
"""A stated value as text, in one of the sets of units."""

_STEPS = {
    "ft": "0.1", "m": "0.01", "in": "0.1", "mm": "1", "lb": "1", "kg": "1", "hp": "1", "kW": "0.1",
    "US gal": "0.1", "L": "0.1", "°F": "1", "°C": "1", "mph": "0.1", "kn": "0.1", "km/h": "0.1",
    "hPa": "1", "°": "1",
}  # fmt: skip
"""What the last digit of a stated value is worth: sheets state no doubt."""


def _in(unit: str, value: float, quantity: str) -> str:
    text = rounded(from_si(value, unit, quantity), _STEPS[unit])
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{text}{'' if unit == '°' else ' '}{unit}"


def _quantity(quantity: str, kind: str | None = None) -> Form:
    """A quantity in the reader's unit; `kind` is what the sets of units call it."""
    return lambda value, units: _in(unit_for(kind or quantity, units), value, quantity)


def _fixed(unit: str, quantity: str) -> Form:
    return lambda value, _units: _in(unit, value, quantity)


def _small(value: float, units: str) -> str:
    return _in("in" if units == "us" else "mm", value, "length")


def _plain(value: object, _units: str) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _share(value: float, _units: str) -> str:
    return f"{value:.0%}"


def _band(value: tuple[float, float], _units: str) -> str:
    return f"{value[0]:.0f} to {value[1]:.0f} rpm"


STATED: Mapping[str, tuple[tuple[str, str, Form], ...]] = MappingProxyType(
    {
        "boat": (
            ("name", "name", _plain),
            ("length", "length", _quantity("length", "short_distance")),
            ("beam", "beam", _quantity("length", "short_distance")),
            ("mass", "mass, nobody aboard", _quantity("mass")),
            ("deadrise", "deadrise", _fixed("°", "angle")),
            ("bottom", "bottom", _plain),
            ("bottom_paint", "bottom paint", _plain),
        ),
        "engines": (
            ("name", "name", _plain),
            ("power", "power", _quantity("power")),
            ("rated_rpm", "maker's band at full throttle", _band),
            ("gear_ratio", "gear ratio", _plain),
            ("cylinders", "cylinders", _plain),
            ("strokes", "strokes", _plain),
            ("mount_height", "mount height", _small),
        ),
        "propeller": (
            ("name", "name", _plain),
            # Propellers are ordered in inches the world over.
            ("diameter", "diameter", _fixed("in", "length")),
            ("pitch", "pitch", _fixed("in", "length")),
            ("blades", "blades", _plain),
            ("cup", "cup", _small),
        ),
        "load": (
            ("people", "people", _plain),
            ("people_mass", "people together", _quantity("mass")),
            ("seating", "where they sat", _plain),
            ("gear", "gear", _quantity("mass")),
            ("fuel", "fuel", _quantity("volume")),
            ("fuel_kind", "kind of fuel", _plain),
            ("ethanol", "ethanol in it", _share),
            ("test_mass", "mass, weighed as tested", _quantity("mass")),
            ("usable_tank", "usable tank", _quantity("volume")),
        ),
        "conditions": (
            ("place", "place", _plain),
            ("wind", "wind", _quantity("speed")),
            ("wind_from", "wind from", lambda value, _units: course(value)),
            ("air_temperature", "air", _quantity("temperature")),
            ("pressure", "pressure at the place", _fixed("hPa", "pressure")),
            ("humidity", "humidity", _share),
            ("water_temperature", "water", _quantity("temperature")),
            ("sea", "sea", _plain),
            ("wave_height", "waves, as judged", _quantity("length", "short_distance")),
            ("depth", "depth of water", _quantity("length", "short_distance")),
        ),
    }
)
"""Every key of the sheet that says what was tested: its name there, its label, its form."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    part: str
    what: str
    value: str


def tested_table(sheet: TrialSheet) -> tuple[Table, ...]:
    """Boat, engines, propeller, load and conditions, as far as they are stated."""
    parts: list[tuple[str, str, BaseModel]] = [("boat", "boat", sheet.boat)]
    many = len(sheet.engines) > 1
    parts += [
        ("engines", f"engine {n}" if many else "engine", engine)
        for n, engine in enumerate(sheet.engines, start=1)
    ]
    parts += [
        ("propeller", "propeller", sheet.propeller),
        ("load", "load", sheet.load),
        ("conditions", "conditions", sheet.conditions),
    ]
    items = [
        _Said(part=title, what=label, value=form(value, sheet.units))
        for part, title, model in parts
        for key, label, form in STATED[part]
        if (value := getattr(model, key)) is not None and key in model.model_fields_set
    ]
    items += [*_runs(sheet), *_fuel(sheet), *_sensors(sheet)]
    if not items:
        return ()
    files: list[Column[_Said]] = [
        words("part", lambda one: one.part),
        words("what", lambda one: one.what),
        words("stated", lambda one: one.value),
    ]
    file = make_table("tested", "what was tested", items, files)
    titles = list(dict.fromkeys(one.part for one in items))
    columns: list[Column[str]] = [
        words("the", lambda title: title),
        words("as the sheet states it", lambda title: _told(items, title), kind="prose"),
    ]
    shown = make_table("tested", "what was tested", titles, columns)
    return (replace(shown, raw_headings=file.raw_headings, raw_rows=file.raw_rows),)


def _told(items: list[_Said], title: str) -> str:
    """All that is stated of one part, its name first and without a label."""
    return "; ".join(
        one.value if one.what == "name" else f"{one.what} {one.value}"
        for one in items
        if one.part == title
    )


def _runs(sheet: TrialSheet) -> list[_Said]:
    """How the drive and the tabs were set, where the sheet says it of a run."""
    return [
        _Said(part="runs", what=f"{what} in {run.name}", value=_share(value, sheet.units))
        for run in sheet.runs
        for what, value in (("drive trim", run.trim), ("trim tabs", run.tabs))
        if value is not None
    ]


def _fuel(sheet: TrialSheet) -> list[_Said]:
    """What filled the tank again, to check the flow by."""
    if sheet.fuel_check is None:
        return []
    refilled = _quantity("volume")(sheet.fuel_check.refilled, sheet.units)
    return [_Said(part="fuel check", what="refilled", value=refilled)]


def _sensors(sheet: TrialSheet) -> list[_Said]:
    return [
        _Said(
            part="sensors",
            what=f"{sensor.channel} of {sensor.log} calibrated",
            value=sensor.calibrated.isoformat(),
        )
        for sensor in sheet.sensors
        if sensor.calibrated is not None
    ]
