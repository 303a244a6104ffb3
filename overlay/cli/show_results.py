"""How results are printed: the report's own tables, then what is missing and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from overlay.analysis.document import document
from overlay.cli.console import as_document, heading
from overlay.cli.show_table import paragraph, show_table
from overlay.report.tables import tables_of
from overlay.report.words import one_line

if TYPE_CHECKING:
    from overlay.workflow.results import ResultsOutcome

LEFT_TO_THE_PAGE = ("tested", "passes")
"""Tables that a person at the terminal has in the sheet, or that would drown the rest."""


def results(outcome: ResultsOutcome, *, as_json: bool) -> None:
    """Print the results of a trial."""
    if as_json:
        as_document(document(outcome.results, outcome.trial))
        return
    found = outcome.results
    heading(one_line(outcome.trial.sheet.name))
    for section, tables in tables_of(found, outcome.trial).items():
        if section == "day":
            _list("look at", found.set_up.warnings)
            _list("what is missing, and why", found.missing)
        for table in tables:
            if table.name not in LEFT_TO_THE_PAGE:
                show_table(table)


def _list(title: str, items: tuple[str, ...]) -> None:
    if items:
        heading(title)
        for item in items:
            paragraph(item, indent="  ", mark="· ")
