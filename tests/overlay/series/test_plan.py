"""From a series to its jobs: what is planned, by what it is known, and what cannot be planned."""

from __future__ import annotations

import json
import os
import pickle
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from season import make_season, write_series

from overlay.errors import SheetError
from overlay.series.asked import series_of
from overlay.series.job import Job, Variant, job_from
from overlay.series.plan import Plan, cuts, elapsed_s, plan_of
from overlay.workflow.align import align


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_season(tmp_path_factory.mktemp("season") / "spring", trials=2, clips=2)


@pytest.fixture(scope="module")
def tied(made: Path) -> Path:
    """A copy of the season with ties."""
    own = Path(shutil.copytree(made, made.parent / "tied"))
    for day in own.glob("day*"):
        align(day / "trial.toml")
    return own


@pytest.fixture
def folder(tied: Path, tmp_path: Path) -> Path:
    """A copy of it for each test, with all times of change, so that its ties stand."""
    return Path(shutil.copytree(tied, tmp_path / "spring"))


def planned(*words: Path | str) -> Plan:
    return plan_of(series_of([str(word) for word in words]))


def job_of(plan: Plan, trial: str = "day1", clip: str = "clip1", units: str | None = None) -> Job:
    return next(
        job for job in plan.jobs if (job.trial, job.clip, job.variant.units) == (trial, clip, units)
    )


def test_a_folder_of_trials_is_a_series(folder: Path) -> None:
    plan = planned(folder)
    assert [job.name for job in plan.jobs] == [
        "day1: clip1", "day1: clip2", "day2: clip1", "day2: clip2",
    ]  # fmt: skip
    assert plan.folder == folder / "spring.series"
    assert plan.refused == ()
    assert not plan.folder.exists(), "planning writes nothing"


def test_sheets_folders_and_patterns_mean_the_same(folder: Path) -> None:
    by_pattern = planned(folder / "day*" / "trial.toml")
    by_sheets = planned(folder / "day1" / "trial.toml", folder / "day2")
    keys = {job.key for job in planned(folder).jobs}
    assert {job.key for job in by_pattern.jobs} == {job.key for job in by_sheets.jobs} == keys
    assert len(planned(folder / "day1" / "trial.toml").jobs) == 2


def test_every_clip_once_for_each_combination(folder: Path) -> None:
    write_series(folder, 'clips = ["clip1"]\n[matrix]\nunits = ["us", "nautical", "metric"]\n')
    plan = planned(folder)
    assert len(plan.jobs) == 6
    assert len({job.key for job in plan.jobs}) == 6
    assert {job.variant.name for job in plan.jobs} == {"us", "nautical", "metric"}
    stems = {job.stem for job in plan.jobs}
    one = job_of(plan, units="us")
    assert f"day1--clip1--us--{one.key[:12]}" in stems
    assert len(stems) == 6


def test_tied_clips_are_counted_by_the_frame(folder: Path) -> None:
    """One second of 30000/1001 Hz has 29.97 frames."""
    job = job_of(planned(folder))
    assert job.guess.frames == 30
    assert job.pixels == 640 * 360
    assert job.guess.seconds > 0
    assert job.guess.size_bytes > 0
    assert job.guess.memory_bytes > 10**8


def test_trials_without_ties_are_tied_first(made: Path) -> None:
    plan = planned(made)
    assert [job.name for job in plan.ties] == ["day1: tie the clocks", "day2: tie the clocks"]
    assert len(plan.jobs) == 4


def edited(path: Path, before: str, after: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert before in text
    path.write_text(text.replace(before, after), encoding="utf-8")


def other_log(folder: Path) -> None:
    lines = (folder / "day1/gps.nmea").read_text().splitlines(keepends=True)
    (folder / "day1/gps.nmea").write_text("".join(lines[:-1]))


def other_footage(folder: Path) -> None:
    with (folder / "day1/bow.mp4").open("ab") as film:
        film.write(b"\0\0\0\x08free")


def other_sheet(folder: Path) -> None:
    edited(folder / "day1/trial.toml", 'units = "nautical"', 'units = "metric"')


def other_tie(folder: Path) -> None:
    edited(folder / "day1/trial.toml", "09:00:02.000Z", "09:00:02.040Z")


def other_quality(folder: Path) -> None:
    edited(folder / "series.toml", "audit = false", 'audit = false\nquality = "draft"')


def other_faceplate(folder: Path) -> None:
    edited(folder / "series.toml", "audit = false", 'audit = false\nfaceplate = "quiet"')


CHANGES: tuple[tuple[Callable[[Path], None], bool], ...] = (
    (other_log, False),
    (other_footage, False),
    (other_sheet, False),
    (other_tie, False),
    (other_quality, True),
    (other_faceplate, True),
)


@pytest.mark.parametrize(
    ("change", "of_all"), CHANGES, ids=lambda one: getattr(one, "__name__", "")
)
def test_what_goes_into_a_clip_changes_its_key(
    folder: Path, change: Callable[[Path], None], of_all: bool
) -> None:
    write_series(folder)
    before = planned(folder)
    change(folder)
    align(folder / "day1" / "trial.toml")
    after = planned(folder)
    assert job_of(before).key != job_of(after).key
    same = job_of(before, "day2").key == job_of(after, "day2").key
    assert same is not of_all


def test_what_does_not_go_into_a_clip_leaves_its_key(folder: Path) -> None:
    write_series(folder)
    before = planned(folder)
    write_series(folder, '[limits]\ncores = 7\nmemory = "1 GB"\n', audit=True)
    os.utime(folder / "day1/bow.mp4", (1e9, 1e9))
    align(folder / "day1" / "trial.toml")
    with (folder / "day1/trial.toml").open("a", encoding="utf-8") as sheet:
        sheet.write('\n[[reels]]\nname = "all"\nparts = [{ clip = "clip1" }]\n')
    align(folder / "day1" / "trial.toml")
    assert [job.key for job in planned(folder).jobs] == [job.key for job in before.jobs]


def test_footage_is_hashed_once_for_a_path_size_and_time_of_change(folder: Path) -> None:
    """The content is changed behind the back of both: that the key stays shows that it was not
    read again; a new time of change, that it is then."""
    film = folder / "day1/bow.mp4"
    os.utime(film, (1.7e9, 1.7e9))
    align(folder / "day1" / "trial.toml")
    before = job_of(planned(folder)).key
    content = bytearray(film.read_bytes())
    content[-1] ^= 0xFF
    film.write_bytes(content)
    os.utime(film, (1.7e9, 1.7e9))
    assert job_of(planned(folder)).key == before
    os.utime(film, (1.8e9, 1.8e9))
    align(folder / "day1" / "trial.toml")
    assert job_of(planned(folder)).key != before


def test_a_bad_sheet_and_unreadable_footage_do_not_hold_up_the_others(folder: Path) -> None:
    edited(folder / "day1/trial.toml", 'name = "Tern 1"', 'nmae = "Tern 1"')
    shutil.copytree(folder / "day2", folder / "day3")
    (folder / "day3/bow.mp4").write_bytes(b"no film at all")
    plan = planned(folder)
    assert {job.trial for job in plan.jobs} == {"day2"}
    said = {one.name: one.sentence for one in plan.refused}
    assert set(said) == {"day1", "day3: clip1", "day3: clip2"}
    assert "nmae: no such key; did you mean 'name'." in said["day1"]
    assert "bow.mp4" in said["day3: clip1"]
    assert len({one.key for one in plan.refused}) == 3


def test_a_run_that_is_not_there_is_told_before_anything_runs(folder: Path) -> None:
    edited(folder / "day1/trial.toml", 'name = "clip1"', 'name = "clip1"\nrun = "launch 7"')
    align(folder / "day1" / "trial.toml")
    plan = planned(folder)
    assert [one.name for one in plan.refused] == ["day1: clip1"]
    assert "there is no run called 'launch 7'" in plan.refused[0].sentence
    assert len(plan.jobs) == 3


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ('clips = ["clap*"]', "no sheet has a clip called 'clap*' (allowed: clip1, clip2)."),
        ('faceplate = "lanch"', "lanch"),
    ],
)
def test_what_no_clip_has_is_refused(folder: Path, more: str, said: str) -> None:
    write_series(folder, more)
    try:
        sentences = {one.sentence for one in planned(folder).refused}
    except SheetError as error:
        sentences = {str(error)}
    assert len(sentences) == 1
    assert said in sentences.pop()


@pytest.mark.parametrize("word", ["nowhere", "none*/trial.toml", "empty"])
def test_no_trial_is_told_in_one_sentence(tmp_path: Path, word: str) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(SheetError) as caught:
        planned(tmp_path / word)
    assert "\n" not in str(caught.value)


def test_a_sheet_that_is_not_there_is_one_line_of_the_plan(folder: Path) -> None:
    series = write_series(folder)
    edited(series, '"day*/trial.toml"', '"day1", "day9/trial.toml"')
    plan = planned(series)
    assert len(plan.jobs) == 2
    assert [one.trial for one in plan.refused] == ["day9"]


def test_jobs_pickle_and_go_through_json(folder: Path) -> None:
    write_series(folder, 'handles = "1 s"\n[matrix]\nunits = ["metric"]\n')
    (job, *_) = planned(folder).jobs
    long = replace(job, cuts=cuts(90, 40))
    for job in (*planned(folder).jobs, long, *long.pieces):
        assert job_from(json.loads(json.dumps(job.as_document()))) == job
        assert pickle.loads(pickle.dumps(job)) == job


def test_a_long_clip_is_cut_into_pieces_each_with_a_key_of_its_own(folder: Path) -> None:
    write_series(folder, '[limits]\npiece = "0.4 s"\n')
    (job,) = planned(folder).jobs[:1]
    frames = job.cuts[-1][1]
    assert abs(frames - 30) <= 1  # a second of 29.97 frames
    assert [cut[0] for cut in job.cuts] == [0, *(cut[1] for cut in job.cuts[:-1])]
    assert max(stop - start for start, stop in job.cuts) <= 12
    pieces = job.pieces
    assert {piece.kind for piece in pieces} == {"piece"}
    assert len({job.key, *(piece.key for piece in pieces)}) == len(pieces) + 1
    assert len({piece.stem for piece in pieces}) == len(pieces)
    assert {piece.joined.stem for piece in pieces} == {job.stem}
    assert sum(piece.guess.frames for piece in pieces) == frames
    write_series(folder)
    assert planned(folder).jobs[0].cuts == ()
    assert planned(folder).jobs[0].key != job.key


def test_cuts_share_a_clip_evenly() -> None:
    assert cuts(1000, 300) == ((0, 250), (250, 500), (500, 750), (750, 1000))
    assert cuts(301, 300) == ((0, 150), (150, 301))
    assert cuts(300, 300) == ()


def test_time_is_counted_longest_first_on_the_cores_there_are() -> None:
    """On paper: 5, 4, 3, 3, 3 on two cores: 5+3 and 4+3, then 3 onto the 7."""
    assert elapsed_s([3, 5, 3, 4, 3], 2) == 10
    assert elapsed_s([], 4) == 0
    assert elapsed_s([7], 4) == 7


def test_a_variant_names_what_it_departs_in() -> None:
    assert Variant().name == "as-filmed"
    assert Variant(shape="upright", units="us").name == "upright-us"
