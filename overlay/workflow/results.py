"""`trialreel results`: everything that the logs of a trial support."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from overlay.analysis.results import Results, compute_results, document
from overlay.trial import Material, Trial, build_trial, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.files import write_json
from overlay.workflow.locate import find_sheet, results_path


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ResultsOutcome:
    """The trial on one clock, its results, and the file that they were written to."""

    trial: Trial
    results: Results
    path: Path


def results(sheet: Path) -> ResultsOutcome:
    """Work out the results of a trial and write them beside its sheet.

    Footage is not needed for them, and a recording without a tie does not hold them up.
    """
    return results_of(read_material(find_sheet(sheet), with_footage=False))


def results_of(material: Material) -> ResultsOutcome:
    """The same for what has been read already."""
    trial = build_trial(material, ties_for(material))
    computed = compute_results(trial)
    path = results_path(material.sheet_path)
    write_json(path, document(computed, trial))
    return ResultsOutcome(trial=trial, results=computed, path=path)
