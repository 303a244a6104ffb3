"""The commands that give figures: `results`, `report`, `specimen`, `compare`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from overlay.cli.options import DEFAULT_SHEET, AsJson, InUnits, Sheet, Units


def results(sheet: Sheet = DEFAULT_SHEET, units: InUnits = None, as_json: AsJson = False) -> None:
    """Compute what the logs support.

    What the sheet's own units come to is written beside it, for programs to read; for a reader of
    other units it is printed only.
    """
    from overlay.cli import show
    from overlay.workflow.results import results as compute

    show.results(compute(sheet, units), as_json=as_json)


def report(sheet: Sheet = DEFAULT_SHEET, units: InUnits = None, as_json: AsJson = False) -> None:
    """Write the results as a page, with plots and tables.

    The folder `report` beside the sheet has one HTML page, the same in Markdown, each plot, and
    each table in numbers; other units than the sheet's go into a folder of their own, such as
    `report-metric`. A folder that it did not make itself is left alone.
    """
    from overlay.cli import show_report
    from overlay.workflow.report import report as write

    show_report.report(write(sheet, units), as_json=as_json)


def specimen(
    picture: Annotated[Path, typer.Argument(metavar="PNG", help="Where the picture goes.")] = Path(
        "specimen.png"
    ),
    as_json: AsJson = False,
) -> None:
    """Draw all instruments and faceplates in one picture.

    What they show is made up.
    """
    from overlay.cli import show
    from overlay.workflow.specimen import write_specimen

    show.specimen(write_specimen(picture), as_json=as_json)


def compare(
    sheets: Annotated[
        list[Path],
        typer.Argument(
            metavar="SHEET SHEET ...", help="Two to six trial sheets, or their folders."
        ),
    ],
    units: Annotated[
        Units | None,
        typer.Option(
            "--units", help="Of whoever reads it, with their own ladder; else the first sheet's."
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Set trials side by side, and mark what differs.

    Each is held against the first. None is called better where mass, fuel, wind, air or bottom
    differ beyond the limits that are printed, or are not known; the exit code is 3 then.
    """
    from overlay.cli import show_compare
    from overlay.workflow.compare import compare_sheets

    code = show_compare.compare(compare_sheets(sheets, units), as_json=as_json)
    if code:
        raise typer.Exit(code)
