"""What a picture may say of a trial in one line each, as the sheet states it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from overlay.report.tested_table import STATED
from overlay.report.words import one_line

if TYPE_CHECKING:
    from pydantic import BaseModel

    from overlay.sheet import TrialSheet

SHORT: Mapping[str, tuple[str, ...]] = {
    "boat": ("name",),
    "engine": ("name", "power"),
    "propeller": ("name", "diameter", "pitch", "blades"),
    "load": ("people", "test_mass"),
    "conditions": ("wind", "wind_from", "sea", "air_temperature", "water_temperature"),
}
"""Which keys of the sheet a line has, in their order."""

LABELLED = frozenset(
    {"pitch", "diameter", "blades", "people", "wind", "air_temperature", "water_temperature"}
)
"""Keys whose value says nothing without its label."""


def facts_of(sheet: TrialSheet) -> dict[str, str]:
    """A line for each word of `SHORT` of which the sheet states something, and for `trial`."""
    models: dict[str, tuple[str, BaseModel | None]] = {
        "boat": ("boat", sheet.boat),
        "engine": ("engines", sheet.engines[0] if sheet.engines else None),
        "propeller": ("propeller", sheet.propeller),
        "load": ("load", sheet.load),
        "conditions": ("conditions", sheet.conditions),
    }
    lines = {
        word: _line(part, model, SHORT[word], sheet.units)
        for word, (part, model) in models.items()
        if model is not None
    }
    if len(sheet.engines) > 1 and lines.get("engine"):
        lines["engine"] = f"{len(sheet.engines)} × {lines['engine']}"
    lines["trial"] = one_line(sheet.name)
    return {word: line for word, line in lines.items() if line}


def _line(part: str, model: BaseModel, keys: tuple[str, ...], units: str) -> str:
    forms = {key: (label, form) for key, label, form in STATED[part]}
    said = []
    for key in keys:
        value = getattr(model, key)
        if value is None or key not in model.model_fields_set:
            continue
        label, form = forms[key]
        text = one_line(form(value, units))
        if key == "wind_from":
            said.append(f"from {text}")
        elif key == "test_mass":
            said.append(f"{text} as tested")
        else:
            said.append(f"{label} {text}" if key in LABELLED else text)
    return ", ".join(said)
