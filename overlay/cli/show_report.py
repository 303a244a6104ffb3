"""What `trialreel report` prints."""

from __future__ import annotations

from typing import TYPE_CHECKING

from overlay.cli.console import OUT, as_document

if TYPE_CHECKING:
    from overlay.workflow.report import ReportOutcome


def report(outcome: ReportOutcome, *, as_json: bool) -> None:
    """Say where the report is, and what is in it."""
    if as_json:
        as_document(
            {
                "schema": "report-made/1",
                "folder": str(outcome.folder),
                "page": str(outcome.page),
                "units": outcome.units,
                "tables": outcome.tables,
                "plots": outcome.plots,
            }
        )
        return
    OUT.print(f"written: {outcome.folder}")
    OUT.print(f"{outcome.tables} tables and {outcome.plots} plots, in {outcome.units} units")
    OUT.print(f"look at: {outcome.page}")
