"""`trialreel series`: its commands and their options."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from overlay.cli.options import AsJson

if TYPE_CHECKING:
    from overlay.series.document import Series
    from overlay.series.folder import SeriesFolder

app = typer.Typer(
    name="series",
    help="Make the clips of many trials, and again only what changed.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

Named = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="SERIES",
        help="A series.toml, a folder of trials, or sheets and patterns; else this folder.",
    ),
]
Cores = Annotated[
    int | None, typer.Option("--cores", min=1, max=1024, help="So many jobs at once.")
]
Memory = Annotated[
    str | None,
    typer.Option(
        "--memory",
        help="What all jobs together may take, such as '4 GB'; on a cluster elsewhere, those of "
        "each worker.",
    ),
]
Cluster = Annotated[
    str | None,
    typer.Option(
        "--cluster",
        metavar="ADDRESS",
        help="Let a Dask cluster do it: its scheduler's address, such as tcp://10.0.0.5:8786, "
        "or `here` for one on this machine.",
    ),
]


def _series(words: list[str] | None, cores: int | None = None, memory: str | None = None) -> Series:
    """The series that is meant, within the limits that were given with it."""
    from dataclasses import replace

    from overlay.series.asked import series_of
    from overlay.series.document import memory_bytes

    series = series_of(words or ["."])
    given: dict[str, int] = {} if cores is None else {"cores": cores}
    if memory is not None:
        try:
            given["memory"] = memory_bytes(memory)
        except ValueError as error:
            raise typer.BadParameter(str(error)) from error
    limits = series.document.limits.model_copy(update=given)
    return replace(series, document=series.document.model_copy(update={"limits": limits}))


@app.command()
def plan(
    series: Named = None, cores: Cores = None, memory: Memory = None, as_json: AsJson = False
) -> None:
    """Say what would be made, how long it would take and how large it would be.

    Nothing is run. Times, sizes and memory are estimates, from what earlier jobs took on this
    machine where there were any.
    """
    from overlay.cli import show_series
    from overlay.series.plan import plan_of

    code = show_series.plan(plan_of(_series(series, cores, memory)), as_json=as_json)
    if code:
        raise typer.Exit(code)


@app.command()
def run(
    series: Named = None,
    cores: Cores = None,
    memory: Memory = None,
    cluster: Cluster = None,
    as_json: AsJson = False,
) -> None:
    """Make what is missing or out of date.

    Clips, ledgers and audits go into the folder NAME.series beside the series. It may be ended and
    begun again at any time: what is whole is kept. The exit code is 0 where all is done and
    agrees with the logs, and 1 where something is not, or does not.
    """
    from overlay.cli import live_series, show_series
    from overlay.series.run import run_series

    if cluster not in (None, "here") and cores is not None:
        message = f"the cluster at {cluster} has its own number of jobs at once: leave out --cores"
        raise typer.BadParameter(message)
    asked = _series(series, cores, memory)
    with live_series.view(quiet=as_json) as watch:
        outcome = run_series(asked, watch, cluster)
    code = show_series.outcome(outcome, as_json=as_json)
    if code:
        raise typer.Exit(code)


@app.command()
def status(series: Named = None, as_json: AsJson = False) -> None:
    """Say how far a series is, also from another terminal while it runs."""
    from overlay.cli import show_series
    from overlay.series.status import status_of

    code = show_series.status(status_of(_folder(series)), as_json=as_json)
    if code:
        raise typer.Exit(code)


@app.command()
def report(series: Named = None, as_json: AsJson = False) -> None:
    """Write the page and the table of results again, without making anything else.

    The page, report.html, has all trials with their clips, audits and failures, and their results
    side by side; results.csv has the results for a spreadsheet. `run` writes both at its end.
    """
    from overlay.cli import show_series
    from overlay.series.report import write_report

    show_series.report(write_report(_folder(series)), as_json=as_json)


def _folder(words: list[str] | None) -> SeriesFolder:
    """The folder of the series that is meant, which may be named itself."""
    from overlay.series.folder import SeriesFolder

    own = Path(words[0]).absolute() if words and len(words) == 1 else None
    if own is None or own.suffix != ".series":
        own = _series(words).folder
    return SeriesFolder(path=own)
