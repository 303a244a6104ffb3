"""Launches as tables: their times, how each began, its peaks, and how the boat lay in it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from overlay.analysis.means import NONE, Mean
from overlay.figures import NO_VALUE, figure
from overlay.report.columns import (
    Column,
    Heading,
    Table,
    make_table,
    measured,
    plain_number,
    with_deviation,
    words,
)
from overlay.report.launch_times import time_tables
from overlay.report.words import instant_of_day, listed
from sync.clock import utc_text

if TYPE_CHECKING:
    from overlay.analysis.attitude import LaunchAttitude
    from overlay.analysis.launches import Launch
    from overlay.analysis.results import Results

MOST_SD_S = 1.0
"""What is not known to a second is not shown (see `overlay.figures.seconds`)."""


def launch_tables(results: Results, units: str, time_zone: str) -> tuple[Table, ...]:
    """All tables about launches; none where there was no launch."""
    if not results.launches:
        return ()
    return (
        *time_tables(results, units),
        *_roll_ons(results.launches),
        _starts(results.launches, time_zone),
        _peaks(results.launches, units),
    )


def attitude_table(attitudes: Sequence[LaunchAttitude], units: str) -> tuple[Table, ...]:
    """How the boat lay in her launches; no table where that is not known of any."""
    if not any(one.bow_rise.known or one.plane_s.known or one.above_s.known for one in attitudes):
        return ()
    return (_attitudes(attitudes, units),)


def _roll_ons(launches: Sequence[Launch]) -> tuple[Table, ...]:
    """From one speed of the ladder to another, wherever the launch began."""
    labels = list(dict.fromkeys(one.label for launch in launches for one in launch.roll_on))
    if not labels:
        return ()
    shown = make_table(
        "roll_on",
        "launches: from one speed to another",
        launches,
        [words("launch", lambda one: one.name, kind="name"), *map(_roll_on_cell, labels)],
        notes=["Each launch singly, current and wind in it. ± is one standard deviation."],
    )
    long = make_table(
        "roll_on",
        "",
        [(launch.name, one) for launch in launches for one in launch.roll_on],
        [
            words("launch", lambda pair: pair[0]),
            words("from and to", lambda pair: pair[1].label),
            measured("time", "s", lambda pair: pair[1].time_s, key="time", quantity="time"),
        ],
    )
    return (replace(shown, raw_headings=long.raw_headings, raw_rows=long.raw_rows),)


def _roll_on_cell(label: str) -> Column[Launch]:
    def text(launch: Launch) -> str:
        time = next((one.time_s for one in launch.roll_on if one.label == label), NONE)
        return with_deviation(time.value, time.sd)

    return Column(heading=Heading(text=label, unit="s", kind="number"), text=text)


def _starts(launches: Sequence[Launch], time_zone: str) -> Table:
    columns: list[Column[Launch]] = [
        words("launch", lambda one: one.name, kind="name"),
        Column(
            heading=Heading(text="start", unit="the trial's time"),
            text=lambda one: instant_of_day(one.start.t_s, time_zone),
            raw=(("start_utc", lambda one: utc_text(one.start.t_s)),),
        ),
        Column(
            heading=Heading(text="±", unit="s", kind="number"),
            text=lambda one: f"{one.start.sd_s:.3f}",
            raw=(("start_sd_s", lambda one: one.start.sd_s),),
        ),
        words("start from", lambda one: one.start.event.replace("_", " ")),
        words("before it", lambda one: one.start.state, kind="prose"),
    ]
    return make_table("launch_starts", "launches: how each began", launches, columns)


def _peaks(launches: Sequence[Launch], units: str) -> Table:
    speed, pull = figure("speed", units), figure("acceleration", units)

    def known(get: Callable[[Launch], float]) -> Callable[[Launch], float]:
        # Where the log of speed breaks off in a launch, its peaks are not known.
        return lambda one: math.nan if one.broken else get(one)

    columns: list[Column[Launch]] = [
        words("launch", lambda one: one.name, kind="name"),
        plain_number(
            "ends at", speed.unit, known(lambda one: one.peak_speed_mps),
            key="end_speed", step=str(speed.step), quantity="speed",
        ),
        plain_number(
            "peak", pull.unit, known(lambda one: one.peak_acceleration),
            key="peak_acceleration", step=str(pull.step), quantity="acceleration",
        ),
        plain_number(
            "mean", pull.unit, known(lambda one: one.mean_acceleration),
            key="mean_acceleration", step=str(pull.step), quantity="acceleration",
        ),
        words("remark", _remark, kind="prose"),
    ]  # fmt: skip
    return make_table(
        "launch_peaks",
        "launches: acceleration",
        launches,
        columns,
        notes=["What a launch ends at is a peak in one direction, and no top speed."],
    )


def _remark(one: Launch) -> str:
    if one.broken:
        return "the log of speed breaks off in it, so its peaks are not known"
    if one.aired_s:
        after = listed(f"{t - one.start.t_s:.1f} s" for t in one.aired_s)
        return f"the propeller drew air {after} after the start"
    return ""


def _attitudes(attitudes: Sequence[LaunchAttitude], units: str) -> Table:
    speed = figure("speed", units)
    late = "after 20 mph, though she planes at less"
    columns: list[Column[LaunchAttitude]] = [
        words("launch", lambda one: one.launch, kind="name"),
        measured("bow rise", "°", lambda one: one.bow_rise, key="bow_rise", quantity="angle",
                 doubt=True),
        plain_number(
            "highest after", "s", lambda one: one.peak_s,
            key="peak_after", step="0.1", quantity="time",
        ),
        Column(
            heading=Heading(text="on the plane after", unit="s", kind="number"),
            text=lambda one: _plane(one.plane_s),
            raw=(
                ("plane_s", lambda one: one.plane_s.value),
                ("plane_sd_s", lambda one: one.plane_s.sd),
            ),
        ),
        plain_number(
            "at", speed.unit, lambda one: one.plane_mps,
            key="plane_speed", step=str(speed.step), quantity="speed",
        ),
        measured(_above(attitudes), "s", lambda one: one.above_s, key="bow_above",
                 quantity="time", doubt=True),
        words("remark", lambda one: late if one.late else "", kind="prose"),
    ]  # fmt: skip
    return make_table("launch_attitude", "launches: attitude", attitudes, columns)


def _above(attitudes: Sequence[LaunchAttitude]) -> str:
    """What the column is called that has the time above the sheet's bow angle."""
    limit = next((one.limit_rad for one in attitudes if math.isfinite(one.limit_rad)), math.nan)
    return f"bow above {math.degrees(limit):.3g}°"


def _plane(mean: Mean) -> str:
    if not mean.known or mean.sd > MOST_SD_S:
        return NO_VALUE
    return with_deviation(mean.value, mean.sd)
