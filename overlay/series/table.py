"""`results.csv`: the results of all trials of a series for a spreadsheet.

One row a figure a trial, value, unit and uncertainty in columns of their own, and not one column a
figure: figures differ from trial to trial, each has its own unit, and what a trial lacks has its
reason where the value would stand. A pivot table over `trial` and `figure` gives any other form.
First come the figures that the page has side by side, worked out alike for all trials; then each
trial's own steps and launches, one by one.

Numbers have a point and no thousands; an empty cell is no value. The file begins with the mark that
tells spreadsheets that it is UTF-8.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from overlay.analysis.comparing.side import Side
from overlay.analysis.means import NONE, Mean
from overlay.analysis.steps import Step
from overlay.figures import unit_for
from overlay.report.columns import Column, Heading, Table, make_table, words
from overlay.report.csv_file import csv_text
from overlay.report.side_by_side import scale_of
from overlay.report.words import course
from overlay.series.missing import plain
from overlay.series.season import Season, SeasonTrial
from sync.units import from_si

UTF8_MARK = "\ufeff"

WAYS = {"both": "mean both ways"}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """One figure of one trial, in the reader's unit."""

    of: SeasonTrial
    section: str = ""
    figure: str = ""
    value: float = math.nan
    sd: float = math.nan
    unit: str = ""
    at: str = ""
    basis: str = ""
    missing: str = ""


def results_csv(season: Season, titles: Mapping[Path, str], base: Path) -> str:
    """All results of a series as comma-separated values.

    Parameters
    ----------
    titles
        What the trials are called.
    base
        The folder that their sheets are told from.
    """
    return UTF8_MARK + csv_text(results_table(season, titles, base))


def results_table(season: Season, titles: Mapping[Path, str], base: Path) -> Table:
    """The same as a table; what its file holds is what counts."""
    columns: list[Column[_Line]] = [
        words("trial", lambda one: titles[one.of.path]),
        words("sheet", lambda one: os.path.relpath(one.of.path, base)),
        words("date", lambda one: "" if one.of.day is None else one.of.day.isoformat()),
        words("boat", lambda one: _boat(one.of)),
        words("section", lambda one: one.section),
        words("figure", lambda one: one.figure),
        Column(
            heading=Heading(text="value", kind="number"),
            text=lambda one: f"{one.value:g}",
            raw=(("value", lambda one: one.value), ("sd", lambda one: one.sd)),
        ),
        words("unit", lambda one: one.unit),
        words("at", lambda one: one.at),
        words("how it was had", lambda one: one.basis, key="how"),
        words("missing because", lambda one: plain(one.missing, base), key="missing"),
    ]
    return make_table("results", "results of all trials", list(_lines(season)), columns)


def _boat(one: SeasonTrial) -> str:
    return "" if one.sheet is None else one.sheet.boat.name or ""


def _lines(season: Season) -> Iterator[_Line]:
    for one in season.trials:
        if one.side is None:
            yield _Line(of=one, missing=one.trouble)
    for place, one in enumerate(season.with_results):
        yield from _stated(season, place, one)
        yield from _figures(season, place, one)
        assert one.side is not None
        yield from _steps(one, one.side, season.units)
        yield from _launches(one, one.side)


def _stated(season: Season, place: int, one: SeasonTrial) -> Iterator[_Line]:
    """What must be alike; numbers alone, since words are no results."""
    for likeness in season.likenesses:
        limit, stated = likeness.limit, likeness.stated[place]
        if limit.quantity == "words":
            continue
        unit = "of standard" if limit.key == "air" else unit_for(limit.quantity, season.units)
        known = math.isfinite(stated.number)
        number = stated.number
        if known and limit.key != "air":
            number = from_si(number, unit, limit.quantity)
        without = f"without {stated.lacks}" if stated.lacks else stated.note
        yield _Line(
            of=one,
            section="conditions",
            figure=limit.title,
            value=number,
            unit=unit,
            basis=without,
            missing="" if known else "not stated",
        )


def _figures(season: Season, place: int, one: SeasonTrial) -> Iterator[_Line]:
    """The figures that trials are compared by."""
    for row in season.figures:
        reading = row.readings[place]
        yield _line(
            one, row.section, row.title, reading.mean, row.quantity, season.units,
            at=reading.at, basis=reading.basis, missing=reading.lacks,
        )  # fmt: skip


def _line(
    one: SeasonTrial, section: str, figure: str, mean: Mean, quantity: str, units: str,
    **more: str,
) -> _Line:  # fmt: skip
    scale, unit = scale_of(quantity, units)
    known = mean.known
    return _Line(
        of=one,
        section=section,
        figure=figure,
        value=scale(mean.value) if known else math.nan,
        sd=scale(mean.sd) if known else math.nan,
        unit=unit,
        **more,
    )


OF_STEPS: Sequence[tuple[str, str, Callable[[Step], Mean]]] = (
    ("engine speed", "rotation", lambda step: step.engine_speed),
    ("speed", "speed", lambda step: step.speed),
    ("fuel flow", "volume_flow", lambda step: step.flow),
    ("economy", "economy", lambda step: step.economy.per_volume_m),
    ("range", "distance", lambda step: step.economy.range_m),
)


def _steps(one: SeasonTrial, side: Side, units: str) -> Iterator[_Line]:
    """Each of a trial's steps, those that were run one way with them."""
    more = {step.name: step for step in side.results.set_up.steps}
    noise = {step.name: step.level for step in side.noise}
    for step in side.results.steps:
        had = WAYS.get(step.ways, "single: current and wind in it")
        known = [(figure, quantity, read(step)) for figure, quantity, read in OF_STEPS]
        known.append(("running trim", "angle", more[step.name].trim if step.name in more else NONE))
        known.append(("noise", "level", noise.get(step.name, NONE)))
        for figure, quantity, mean in known:
            if mean.known:
                yield _line(one, "steps", figure, mean, quantity, units, at=step.name, basis=had)


def _launches(one: SeasonTrial, side: Side) -> Iterator[_Line]:
    """Each of a trial's launches: its times, and the speeds that it was not timed to."""
    for launch in side.results.launches:
        way = f"on {course(launch.course_rad)}"
        for row in launch.ladder:
            yield _Line(
                of=one, section="launches", figure=f"time to {row.label}", value=row.time_s,
                sd=row.sd_s, unit="s", at=launch.name, basis=way,
            )  # fmt: skip
        for label, why in launch.missed:
            yield _Line(
                of=one, section="launches", figure=f"time to {label}", unit="s", at=launch.name,
                basis=way, missing=why,
            )  # fmt: skip
    for attitude in side.results.attitudes:
        for figure, quantity, mean in (
            ("time to plane", "time", attitude.plane_s),
            ("bow rise", "angle", attitude.bow_rise),
        ):
            if mean.known:
                yield _line(
                    one, "launches", figure, mean, quantity, side.sheet.units, at=attitude.launch
                )
