"""The commands up to one clock: `demo`, `new`, `check`, `align`, `clues`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from overlay.cli.options import DEFAULT_SHEET, AsJson, Sheet


def demo(
    folder: Annotated[
        Path, typer.Argument(help="Where the demo trial goes; it is made if it is not there.")
    ] = Path("trialreel-demo"),
) -> None:
    """Make a simulated trial and render its clip."""
    from overlay.cli import console, show
    from overlay.workflow.demo import demo as make

    with console.progress() as bar:
        outcome = make(folder, progress=bar)
    show.demo(outcome)


def new(
    folder: Annotated[Path, typer.Argument(help="A folder with logs and footage.")],
) -> None:
    """Write a trial sheet for a folder of logs and footage."""
    from overlay.cli import show
    from overlay.workflow.new import new as draft

    ask = show.ask if sys.stdin.isatty() and sys.stdout.isatty() else None
    show.new(draft(folder, ask=ask))


def check(sheet: Sheet = DEFAULT_SHEET, as_json: AsJson = False) -> None:
    """Say what is there, what is odd, and what is missing."""
    from overlay.cli import show
    from overlay.workflow.check import check as look

    code = show.check(look(sheet), as_json=as_json)
    if code:
        raise typer.Exit(code)


def align(
    recording: Annotated[
        str | None, typer.Argument(help="A recording or clip of the sheet; all without it.")
    ] = None,
    sheet: Sheet = DEFAULT_SHEET,
    frame: Annotated[
        int | None,
        typer.Option("--frame", min=0, help="A frame whose time you know, counted from 0."),
    ] = None,
    utc: Annotated[
        str | None,
        typer.Option("--utc", help="Its time, such as 2026-06-11T09:14:03.250Z."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Tie the clocks, or write down a tie.

    Without --frame and --utc it looks for clues and says what follows from them; with both it
    writes a tie that you read yourself into the sheet, and saves the frames around it.
    """
    from overlay.cli import show
    from overlay.workflow.align import align as tie
    from overlay.workflow.typed_tie import type_tie

    if (frame is None) != (utc is None):
        raise typer.BadParameter("--frame and --utc belong together: give both or neither")
    if frame is not None and utc is not None:
        if recording is None:
            raise typer.BadParameter("--frame and --utc need the name of a recording or clip")
        typed = type_tie(sheet, recording, frame=frame, utc=utc)
        if not as_json:
            show.typed_tie(typed)
    outcome = tie(sheet, recording)
    code = show.align(outcome, as_json=as_json)
    if code:
        raise typer.Exit(code)


def clues(
    kind: Annotated[
        str | None, typer.Argument(help="A kind of clue, as `align` calls it; all without it.")
    ] = None,
) -> None:
    """Say what can tie clocks, and what each kind of clue needs."""
    from overlay.cli import show_clues

    if kind is None:
        show_clues.kinds()
    elif not show_clues.page(kind):
        raise typer.BadParameter(f"there is no clue called {kind!r}; `trialreel clues` lists them")
