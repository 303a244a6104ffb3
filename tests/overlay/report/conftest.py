"""A simulated day's report, made once: four logs, its sheet, and what follows from them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from sailed import logged, sailed, write_trial

from overlay.analysis.results import Results, compute_results
from overlay.report.sections import Report, report_of
from overlay.trial import Trial, build_trial, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.report import in_units

HOSTILE = """<script>alert("x")</script> & $x^{2$ | [a](http://b.c) `r` \\n_"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Made:
    """One trial with its results and its report."""

    sheet: Path
    trial: Trial
    results: Results
    report: Report


def made_of(sheet: Path, units: str | None = None) -> Made:
    """Everything that follows from a sheet."""
    material = in_units(read_material(sheet, with_footage=False), units)
    trial = build_trial(material, ties_for(material))
    results = compute_results(trial)
    return Made(
        sheet=sheet, trial=trial, results=results, report=report_of(results, trial, "trialreel 0")
    )


@pytest.fixture(scope="session")
def report_on() -> Callable[..., Made]:
    """`made_of`, for tests that have a sheet of their own."""
    return made_of


@pytest.fixture(scope="session")
def day_sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sheet of a simulated day as a crew brings it home."""
    return write_trial(tmp_path_factory.mktemp("reported"), logged(sailed()))


@pytest.fixture(scope="session")
def day(day_sheet: Path) -> Made:
    """That day in its sheet's own units."""
    return made_of(day_sheet)


@pytest.fixture(scope="session")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """The same day with names that would be mark-up, formulas and links if they could."""
    sheet = write_trial(tmp_path_factory.mktemp("hostile"), logged(sailed()))
    text = sheet.read_text()
    name = "'''" + HOSTILE + "'''"
    text = text.replace('name = "Reciprocal day"', f"name = {name}")
    text += f"[boat]\nname = {name}\n[conditions]\nsea = \"=cmd|' /C calc'!A0\"\n"
    start, stop = "2026-06-11T04:10:20Z", "2026-06-11T04:11:20Z"
    text += f'[[runs]]\nname = "$_{{<b>&"\nkind = "span"\nstart = {start}\nstop = {stop}\n'
    sheet.write_text(text)
    return made_of(sheet)
