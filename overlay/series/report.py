"""The report of a series: a page for people and a table for spreadsheets, in its folder."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from overlay.series.folder import REPORT_PAGE, RESULTS_TABLE, SeriesFolder
from overlay.series.page import series_html
from overlay.series.season import season_of, titles_of
from overlay.series.standing import standing_of
from overlay.series.table import results_csv
from overlay.workflow.files import write_whole


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesReport:
    """What was written, of how many clips, those that are not there with them, and trials."""

    page: Path
    table: Path
    clips: int
    trials: int
    with_results: int
    units: str


def write_report(folder: SeriesFolder) -> SeriesReport:
    """Write page and table anew from what the folder and its trials hold; nothing is rendered.

    It is all the same who made the clips, and where: on this machine or on a cluster.

    Raises
    ------
    SheetError
        Where the series was never begun.
    OutputError
        Where its folder cannot be written to.
    """
    standing = standing_of(folder)
    season = season_of(standing.sheets, standing.units)
    base = folder.path.parent
    page = series_html(standing, season)
    table = results_csv(season, titles_of(season, base), base)
    places = folder.path / REPORT_PAGE, folder.path / RESULTS_TABLE
    # Each by itself: a folder to make both in would be swept by a run that begins beside this one.
    for place, text in zip(places, (page, table), strict=True):
        write_whole(place, text.encode())
    return SeriesReport(
        page=places[0],
        table=places[1],
        clips=len(standing.clips) + len(standing.refused),
        trials=len(season.trials),
        with_results=len(season.with_results),
        units=season.units,
    )
