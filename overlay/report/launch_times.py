"""The times and distances of launches as tables: the mean both ways first, then each by itself."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from overlay.analysis.means import NONE, Mean
from overlay.figures import unit_for
from overlay.report.columns import (
    Column,
    Heading,
    Table,
    make_table,
    measured,
    number,
    plain_number,
    with_deviation,
    words,
)
from overlay.report.words import course, listed
from sync.units import from_si

if TYPE_CHECKING:
    from overlay.analysis.both_ways import BothWays, TwoWayTime
    from overlay.analysis.ladder import LadderTime
    from overlay.analysis.launches import Launch
    from overlay.analysis.results import Results

BOTH_WAYS = "both ways"
WIDE = 4
"""With more speeds than this a row has no room for the deviation of each time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """One line of the table of times: the mean both ways, or one launch."""

    name: str
    course_rad: float
    part: str
    times: dict[str, Mean]
    distances: dict[str, Mean]


def time_tables(results: Results, units: str) -> tuple[Table, ...]:
    """Times and distances of all launches."""
    rows = _rows(results)
    return _times(results, rows, units), _distances(results, rows, units)


def _rows(results: Results) -> list[_Row]:
    """The mean both ways first, where there is one, then each launch."""
    headline = results.both_ways
    rows = [_launch_row(launch, headline) for launch in results.launches]
    if not headline.times:
        return rows
    mean = _Row(
        name=BOTH_WAYS,
        course_rad=math.nan,
        part="mean",
        times={row.label: row.time_s for row in headline.times},
        distances={
            # A mean of distances has no deviation of its own: that of its time, at the
            # speed of the mark, stands for it.
            row.label: _far(row.distance_m, row.speed_mps, row.time_s.sd)
            for row in headline.times
        },
    )
    return [mean, *rows]


def _launch_row(launch: Launch, headline: BothWays) -> _Row:
    starred = launch.name in dict(headline.left_out)
    return _Row(
        name=f"{launch.name}{' *' if starred else ''}",
        course_rad=launch.course_rad,
        part=_part(launch, headline),
        times={row.label: Mean(value=row.time_s, sd=row.sd_s) for row in launch.ladder},
        distances={
            row.label: _far(row.distance_m, row.speed_mps, row.sd_s) for row in launch.ladder
        },
    )


def _far(distance_m: float, speed_mps: float, sd_s: float) -> Mean:
    return Mean(value=distance_m, sd=speed_mps * sd_s)


def _part(launch: Launch, headline: BothWays) -> str:
    """What a launch has to do with the mean both ways."""
    if launch.name in dict(headline.left_out):
        return "left out"
    counted = any(launch.name in row.launches for row in headline.times)
    return "counted" if counted else "single"


def ladder_labels(results: Results) -> list[str]:
    """The ladder's speeds, the slowest first, those that nobody reached behind."""
    speeds = {row.label: row.speed_mps for one in results.launches for row in one.ladder}
    missed = [label for one in results.launches for label, _ in one.missed]
    reached = sorted(speeds, key=lambda label: speeds[label])
    return [*reached, *(label for label in dict.fromkeys(missed) if label not in speeds)]


def _times(results: Results, rows: Sequence[_Row], units: str) -> Table:
    labels = ladder_labels(results)
    cells = [_time_cell(label, doubt=len(labels) <= WIDE) for label in labels]
    shown = make_table(
        "launch_times",
        "launches: time from the start",
        rows,
        [*_fixed_columns(), *cells],
        notes=_about(results),
        marked=[n for n, row in enumerate(rows) if row.name == BOTH_WAYS],
    )
    return _with_long_file(shown, _long(results), units)


def _distances(results: Results, rows: Sequence[_Row], units: str) -> Table:
    """For the eye: in a file the distances stand beside the times."""
    short = unit_for("short_distance", units)
    shown = make_table(
        "launch_distances",
        "launches: distance from the start",
        rows,
        [*_fixed_columns(), *(_distance_cell(label, short) for label in ladder_labels(results))],
        marked=[n for n, row in enumerate(rows) if row.name == BOTH_WAYS],
    )
    return replace(shown, raw_headings=(), raw_rows=())


def _time_cell(label: str, *, doubt: bool) -> Column[_Row]:
    """A column of the ladder, for the eye only: the file is long and not wide."""

    def text(row: _Row) -> str:
        time = row.times.get(label, NONE)
        return with_deviation(time.value, time.sd) if doubt else number(time.value, time.sd)

    return Column(heading=Heading(text=f"to {label}", unit="s", kind="number"), text=text)


def _distance_cell(label: str, short: str) -> Column[_Row]:
    def text(row: _Row) -> str:
        far = row.distances.get(label, NONE)
        return number(from_si(far.value, short, "length"), from_si(far.sd, short, "length"))

    return Column(heading=Heading(text=f"to {label}", unit=short, kind="number"), text=text)


def _fixed_columns() -> list[Column[_Row]]:
    return [
        words("launch", lambda row: row.name, kind="name"),
        words("on", lambda row: course(row.course_rad) if row.part != "mean" else ""),
        words("is", lambda row: row.part),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Long:
    """One time of one launch, or of the mean both ways, as the file has it."""

    launch: str
    part: str
    course_rad: float
    row: LadderTime | TwoWayTime

    @property
    def time(self) -> Mean:
        """The time with its deviation."""
        if isinstance(self.row.time_s, Mean):
            return self.row.time_s
        return Mean(value=self.row.time_s, sd=self.row.sd_s)


def _long(results: Results) -> list[_Long]:
    """A row for each time."""
    out = [
        _Long(launch=BOTH_WAYS, part="mean", course_rad=math.nan, row=row)
        for row in results.both_ways.times
    ]
    for one in results.launches:
        part = _part(one, results.both_ways)
        out += [
            _Long(launch=one.name, part=part, course_rad=one.course_rad, row=row)
            for row in one.ladder
        ]
    return out


def _with_long_file(table: Table, rows: list[_Long], units: str) -> Table:
    speed, short = unit_for("speed", units), unit_for("short_distance", units)
    columns: list[Column[_Long]] = [
        words("launch", lambda one: one.launch, kind="name"),
        words("part", lambda one: one.part),
        plain_number(
            "on", "°", lambda one: one.course_rad, key="course", step="1", quantity="angle"
        ),
        words("to", lambda one: one.row.label),
        plain_number(
            "speed", speed, lambda one: one.row.speed_mps, key="speed", step="0.1", quantity="speed"
        ),
        measured("time", "s", lambda one: one.time, key="time", quantity="time"),
        plain_number(
            "distance", short, lambda one: one.row.distance_m,
            key="distance", step="1", quantity="length",
        ),
        plain_number("apart", "s", _spread, key="spread", step="0.01", quantity="time"),
    ]  # fmt: skip
    long = make_table(table.name, table.title, rows, columns)
    return replace(table, raw_headings=long.raw_headings, raw_rows=long.raw_rows)


def _spread(one: _Long) -> float:
    return getattr(one.row, "spread_s", math.nan)


def _about(results: Results) -> list[str]:
    """What the mean both ways is of, or why there is none; what is missing in a row."""
    headline = results.both_ways
    told = (
        "Single launches, one direction only: current and wind are in these times, and there is "
        "no mean both ways."
    )
    if headline.times:
        last = headline.times[-1]
        spread = max(row.spread_s for row in headline.times)
        told = (
            f"Both ways: the mean of {listed(last.launches)}, the two directions counted alike; "
            f"they lie up to {spread:.2f} s apart. Each launch by itself is single: current and "
            "wind are in its times."
        )
    notes = [
        told,
        (
            "± is one standard deviation of what was measured; what the sea does to a launch shows "
            "in how far repeats lie apart."
        ),
    ]
    if headline.left_out:
        out = "; ".join(f"{name}: {why}" for name, why in headline.left_out)
        notes.append(f"* not in a mean: {out}.")
    missed = [
        f"{one.name}: {label}: {why}" for one in results.launches for label, why in one.missed
    ]
    return [*notes, *([f"Without a time: {'; '.join(missed)}."] if missed else [])]
