"""`trialreel results`: everything that the logs of a trial support."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from overlay.analysis.document import document
from overlay.analysis.results import Results, compute_results
from overlay.trial import Material, Trial, build_trial, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.files import write_json
from overlay.workflow.locate import find_sheet, results_path


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ResultsOutcome:
    """The trial on one clock, its results, and the file that they were written to, if any."""

    trial: Trial
    results: Results
    path: Path | None


def results(sheet: Path, units: str | None = None) -> ResultsOutcome:
    """Work out the results of a trial and write them beside its sheet.

    Footage is not needed for them, and a recording without a tie does not hold them up.

    Parameters
    ----------
    units
        `us`, `nautical` or `metric`; None for the sheet's own. Results for a reader of other
        units are not written, since the file has the sheet's.
    """
    material = read_material(find_sheet(sheet), with_footage=False)
    if units not in (None, material.sheet.units):
        trial, computed = _worked_out(in_units(material, units))
        return ResultsOutcome(trial=trial, results=computed, path=None)
    return results_of(material)


def results_of(material: Material) -> ResultsOutcome:
    """Work out, and write, the results of what has been read already."""
    trial, computed = _worked_out(material)
    path = results_path(material.sheet_path)
    write_json(path, document(computed, trial))
    return ResultsOutcome(trial=trial, results=computed, path=path)


def _worked_out(material: Material) -> tuple[Trial, Results]:
    trial = build_trial(material, ties_for(material))
    return trial, compute_results(trial)


def in_units(material: Material, units: str | None) -> Material:
    """The trial for a reader of other units: with the usual ladder of those, not one converted."""
    if units is None or units == material.sheet.units:
        return material
    return replace(
        material, sheet=material.sheet.model_copy(update={"units": units, "ladder": None})
    )
