"""Shapes in a series: what they take is planned, and every clip is made in each of them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from season import make_season, run_series, write_series

from overlay.series.asked import series_of
from overlay.series.plan import Plan, plan_of
from overlay.workflow.align import align
from sync.media import probe

EVERY = '[matrix]\nshapes = ["wide", "upright", "square"]\n'


def planned(folder: Path) -> Plan:
    return plan_of(series_of([str(folder)]))


@pytest.fixture
def season(tmp_path: Path) -> Path:
    folder = make_season(tmp_path / "spring", trials=1, size=(1024, 576))
    align(folder / "day1" / "trial.toml")
    return folder


def test_the_plan_counts_the_pixels_that_are_kept(season: Path) -> None:
    """9/16 of 576 is 324."""
    write_series(season, EVERY)
    plan = planned(season)
    assert plan.refused == ()
    pixels = {job.variant.shape: job.pixels for job in plan.jobs}
    assert pixels == {"wide": 1024 * 576, "upright": 324 * 576, "square": 576 * 576}
    sizes = {job.variant.shape: job.guess.size_bytes for job in plan.jobs}
    assert sizes["upright"] < sizes["square"] < sizes["wide"]


def test_the_shape_of_the_sheet_counts_where_the_matrix_has_none(season: Path) -> None:
    sheet = season / "day1" / "trial.toml"
    text = sheet.read_text(encoding="utf-8")
    sheet.write_text(text.replace('name = "clip1"', 'name = "clip1"\nshape = "square"'))
    align(sheet)
    (job,) = planned(season).jobs
    assert job.pixels == 576 * 576
    write_series(season, '[matrix]\nshapes = ["upright"]\n')
    (job,) = planned(season).jobs
    assert job.pixels == 324 * 576


def test_a_look_is_part_of_the_key(season: Path) -> None:
    write_series(season, EVERY)
    before = {job.key for job in planned(season).jobs}
    sheet = season / "day1" / "trial.toml"
    text = sheet.read_text(encoding="utf-8")
    sheet.write_text(
        text.replace('name = "clip1"', 'name = "clip1"\nshape = "wide"\nlook = 0.3'),
        encoding="utf-8",
    )
    align(sheet)
    after = {job.key for job in planned(season).jobs}
    assert len(before) == len(after) == 3
    assert not before & after


def test_a_shape_that_leaves_too_little_is_one_line_of_the_plan(tmp_path: Path) -> None:
    folder = make_season(tmp_path / "spring", trials=1)
    align(folder / "day1" / "trial.toml")
    write_series(folder, EVERY)
    plan = planned(folder)
    assert {job.variant.shape for job in plan.jobs} == {"wide", "square"}
    (refused,) = plan.refused
    assert refused.name == "day1: clip1, upright"
    assert "upright leaves 202×360 of the picture's 640×360 pixels" in refused.sentence


def test_every_clip_is_made_and_audited_in_every_shape(season: Path) -> None:
    write_series(season, EVERY, audit=True)
    done = run_series(season)
    assert done.returncode == 0, done.stderr
    made = season / "season.series"
    sizes = {}
    for job in planned(season).jobs:
        report = json.loads((made / "jobs" / f"{job.key}.json").read_bytes())
        assert (report["outcome"], report["audit"]["outcome"]) == ("done", "agrees")
        clip = probe(made / "clips" / job.output_names[0])
        sizes[job.variant.shape] = (clip.width, clip.height)
    assert sizes == {"wide": (1024, 576), "upright": (324, 576), "square": (576, 576)}
