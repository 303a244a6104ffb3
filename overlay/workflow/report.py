"""`trialreel report`: the results as a page, in Markdown, as plots and as tables of numbers."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

from overlay.analysis.document import document
from overlay.analysis.results import compute_results
from overlay.report.csv_file import csv_text
from overlay.report.pages import html_page, markdown_page, plot_file
from overlay.report.sections import Report, report_of
from overlay.trial import build_trial, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.locate import SHEET_NAME, find_sheet
from overlay.workflow.report_folder import put_in_place
from overlay.workflow.results import in_units


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportOutcome:
    """The folder that was written, its page, and how many tables and plots are in it."""

    folder: Path
    page: Path
    units: str
    tables: int
    plots: int


def report(sheet: Path, units: str | None = None) -> ReportOutcome:
    """Work out the results of a trial and write its report beside the sheet.

    Parameters
    ----------
    units
        `us`, `nautical` or `metric`; None for the sheet's own. Another set has its own ladder,
        and everything is worked out for it afresh.

    Raises
    ------
    OutputError
        Where something stands in the report's place that no report made.
    """
    path = find_sheet(sheet)
    own = read_material(path, with_footage=False)
    material = in_units(own, units)
    trial = build_trial(material, ties_for(material))
    results = compute_results(trial)
    made = report_of(results, trial, f"trialreel {version('trialreel')}")
    found = json.dumps(document(results, trial), indent=2, ensure_ascii=False, allow_nan=False)
    folder = report_folder(path, None if units == own.sheet.units else units)
    put_in_place(folder, {**files_of(made), "results.json": f"{found}\n"})
    return ReportOutcome(
        folder=folder,
        page=folder / "index.html",
        units=trial.sheet.units,
        tables=len(made.tables()),
        plots=len(made.plots()),
    )


def report_folder(sheet_path: Path, units: str | None = None) -> Path:
    """Where a sheet's report goes: `report`, or a folder named after a sheet of another name;
    `report-metric` and the like for units that are not the sheet's own."""
    name = "report" if sheet_path.name == SHEET_NAME else f"{sheet_path.stem}.report"
    return sheet_path.with_name(f"{name}-{units}" if units else name)


def files_of(made: Report) -> Mapping[str, str]:
    """Every file of a report by its place in the folder."""
    files = {"index.html": html_page(made), "report.md": markdown_page(made)}
    files |= {f"plots/{plot.name}.svg": plot_file(plot.svg) for plot in made.plots()}
    files |= {f"tables/{table.name}.csv": csv_text(table) for table in made.tables()}
    return files
