"""Times that were asked for, one-engine stretches and idling, as tables and as files."""

import io
import math
from dataclasses import replace

import pandas as pd
import pytest

from overlay.analysis.means import NONE, Mean
from overlay.analysis.sides import OneEngine, Sides
from overlay.analysis.timed import TimedRun
from overlay.report.asked_tables import sides_table, timed_table
from overlay.report.csv_file import csv_text
from overlay.report.run_tables import idling_table, step_table
from overlay.sheet import TrialSheet
from sync.clock import Span

T = 1_781_150_400.0
FILM = TimedRun(
    name="lift, up", way="once", how="counted on film, bow, frames 412 to 530, ± 1 frame",
    start_s=math.nan, time=Mean(value=3.933, sd=0.033),
)  # fmt: skip
TRIM = TimedRun(
    name="trim out", way="there", how="trim from 0 % to 100 %", start_s=T + 4.2,
    time=Mean(value=12.04, sd=0.06),
)  # fmt: skip


def frame(table) -> pd.DataFrame:
    return pd.read_csv(io.StringIO(csv_text(table)), keep_default_na=False)


def test_a_time_says_how_it_was_had_and_how_sure_it_is() -> None:
    (table,) = timed_table([TRIM, FILM], "Europe/Helsinki")
    assert table.rows[0] == ("trim out", "07:00:04", "12.04 ± 0.06", "trim from 0 % to 100 %")
    assert table.rows[1][1:3] == ("––", "3.93 ± 0.03")
    assert "counted on film" in table.rows[1][3]
    assert "one frame" in table.notes[0]
    rows = frame(table)
    assert rows["time_s"].tolist() == [12.04, 3.933]
    assert rows["time_sd_s"].tolist() == [0.06, 0.033]
    assert rows["start_utc"].tolist()[1] == ""


def test_nothing_asked_for_is_no_table() -> None:
    assert timed_table([], "UTC") == ()
    assert sides_table(None, "UTC") == ()
    assert (
        sides_table(Sides(verdict="cannot be told", turn=NONE, stretches=(), why=""), "UTC") == ()
    )


@pytest.mark.parametrize(("rate", "to"), [(0.05, "starboard"), (-0.05, "port")])
def test_a_stretch_on_one_engine_says_where_she_turned(rate: float, to: str) -> None:
    one = OneEngine(
        span=Span(start_s=T, stop_s=T + 18.4), engine="port", turn=Mean(value=rate, sd=0.002),
        counts=True, why_not="",
    )  # fmt: skip
    made = Sides(verdict="confirmed", turn=one.turn, stretches=(one,), why="run once so")
    (table,) = sides_table(made, "UTC")
    assert table.rows[0][:4] == ("port", "04:00:00", "18", to)
    assert table.notes == ("Confirmed: run once so.",)


def test_no_row_has_one_course_for_passes_on_many(day) -> None:
    """As it had for idling: ten passes round the compass under one course."""
    (table,) = idling_table(day.results.idling, "us")
    for step, row in zip(day.results.idling, table.rows, strict=True):
        courses = [run.course_rad for run in step.passes]
        spread = max(abs(math.sin(one - courses[0])) for one in courses)
        assert spread < 0.5
        assert row[1].endswith("both") == (step.ways == "both")
    step = day.results.steps[0]
    across = replace(step.passes[0], course_rad=step.passes[0].course_rad + math.pi / 2)
    odd = replace(step, ways="single", passes=(step.passes[0], across))
    sheet = TrialSheet.model_validate({"schema": "trial/1"})
    (steps,) = step_table([odd], day.results.set_up.steps[:1], sheet, "engine-reported")
    assert steps.rows[0][1] == "2 on several courses"
