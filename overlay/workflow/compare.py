"""`trialreel compare`: the results of several trials side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.analysis.compare import Comparison, compare
from overlay.analysis.comparing.side import Side
from overlay.analysis.results import compute_results
from overlay.errors import SheetError
from overlay.trial import Material, Trial, build_trial, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.locate import SHEET_NAME, find_sheet

if TYPE_CHECKING:
    from overlay.sheet import TrialSheet

FEWEST, MOST = 2, 6
LETTERS = "ABCDEF"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ComparedTrial:
    """One of them: the letter that stands for it, what it is called, and its sheet."""

    letter: str
    name: str
    sheet_path: Path
    trial: Trial


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CompareOutcome:
    """The trials in the order in which they were named, and how they compare.

    `redefined` are the trials whose sheets choose other definitions than the first.
    """

    trials: tuple[ComparedTrial, ...]
    comparison: Comparison
    units: str
    redefined: tuple[str, ...]


def compare_sheets(sheets: Sequence[Path], units: str | None = None) -> CompareOutcome:
    """Work out several trials alike and hold them against the first.

    All are worked out with the first sheet's units, ladder and definitions, or with the usual
    ladder of the units that are asked for. Nothing is written: each trial's own results stay.

    Raises
    ------
    SheetError
        For fewer than two sheets or more than six, and for one that is named twice.
    LogError, SheetError
        For whatever in a trial cannot be used.
    """
    paths = _checked(sheets)
    materials = [read_material(path, with_footage=False) for path in paths]
    first = materials[0].sheet
    sides, trials = [], []
    for letter, name, material in zip(LETTERS, names_of(materials), materials, strict=False):
        trial, side = worked_out_alike(material, first, units)
        sides.append(side)
        trials.append(
            ComparedTrial(letter=letter, name=name, sheet_path=material.sheet_path, trial=trial)
        )
    return CompareOutcome(
        trials=tuple(trials),
        comparison=compare(sides),
        units=units or first.units,
        redefined=tuple(
            letter
            for letter, material in zip(LETTERS, materials, strict=False)
            if material.sheet.definitions != first.definitions
        ),
    )


def worked_out_alike(
    material: Material, first: TrialSheet, units: str | None
) -> tuple[Trial, Side]:
    """A trial as it is compared: with the ladder and definitions of the first one's sheet.

    Parameters
    ----------
    material
        Read without its footage.
    units
        In which all are worked out; None for the first sheet's.
    """
    alike = replace(material, sheet=_as_the_first(material.sheet, first, units))
    trial = build_trial(alike, ties_for(material))
    results = compute_results(trial)
    return trial, Side(
        sheet=trial.sheet,
        results=results,
        noise=results.noise,
        air=results.air,
        flow_factor=trial.flow.factor,
    )


def _checked(sheets: Sequence[Path]) -> list[Path]:
    if not FEWEST <= len(sheets) <= MOST:
        raise SheetError(
            f"{len(sheets)} trial{'s' if len(sheets) != 1 else ''} cannot be compared",
            advice=f"name {FEWEST} to {MOST} sheets, or their folders",
        )
    paths = [find_sheet(sheet) for sheet in sheets]
    seen: set[Path] = set()
    for path in paths:
        if path.resolve() in seen:
            raise SheetError("this trial is named twice", path=path)
        seen.add(path.resolve())
    return paths


def _as_the_first(sheet: TrialSheet, first: TrialSheet, units: str | None) -> TrialSheet:
    """A sheet with the ladder and definitions that all trials are worked out with."""
    return sheet.model_copy(
        update={
            "units": units or first.units,
            "ladder": first.ladder_speeds() if units in (None, first.units) else None,
            "definitions": first.definitions,
        }
    )


def names_of(materials: Sequence[Material]) -> list[str]:
    """What the trials are called: by their sheets, and by where those lie where names agree."""
    names = [material.sheet.name for material in materials]
    places = _told_apart([material.sheet_path.resolve() for material in materials])
    return [
        f"{name} ({place})" if names.count(name) > 1 else name
        for name, place in zip(names, places, strict=True)
    ]


def _told_apart(paths: Sequence[Path]) -> list[str]:
    """The shortest ends of paths that differ; a sheet of the usual name goes by its folder."""
    ways = [path.parent if path.name == SHEET_NAME else path for path in paths]
    most = max(len(way.parts) for way in ways)
    for length in range(1, most + 1):
        ends = [str(Path(*way.parts[-length:])) for way in ways]
        if len(set(ends)) == len(ends):
            return ends
    return [str(path) for path in paths]
