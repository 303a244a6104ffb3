"""One job as a process: what it tells, what it leaves, and how it ends."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from season import left_behind, make_season, prints_of, write_series

from overlay.ledger import read_ledger
from overlay.series.asked import series_of
from overlay.series.folder import SeriesFolder
from overlay.series.job import Job
from overlay.series.locks import locked
from overlay.series.outcome import report_from
from overlay.series.plan import plan_of
from overlay.workflow.align import align
from overlay.workflow.render import render
from sync.media import probe

WORK = (sys.executable, "-P", "-m", "overlay.series.work")


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = make_season(tmp_path_factory.mktemp("season") / "spring", trials=1)
    align(folder / "day1" / "trial.toml")
    return folder


def started(job: Job, folder: SeriesFolder) -> subprocess.Popen[str]:
    folder.prepare()
    process = subprocess.Popen(
        [*WORK, str(folder.path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdin is not None
    process.stdin.write(json.dumps(job.as_document()) + "\n")
    process.stdin.flush()
    return process


def ended(process: subprocess.Popen[str], code: int) -> str:
    """What a job told until its end; its standard input is open all the time, as its parent's."""
    assert process.stdout is not None
    told = process.stdout.read()
    assert process.wait(timeout=60) == code
    process.communicate()
    return told


def the_job(season: Path, more: str = "", *, audit: bool = False) -> tuple[Job, SeriesFolder]:
    write_series(season, more, audit=audit)
    plan = plan_of(series_of([str(season)]))
    return plan.jobs[0], SeriesFolder(path=plan.folder)


@pytest.mark.whole_road
def test_a_job_makes_clip_ledger_and_audit_and_tells_of_each_stage(season: Path) -> None:
    job, folder = the_job(season, '[matrix]\nunits = ["nautical"]\n', audit=True)
    process = started(job, folder)
    assert process.stdin is not None
    assert process.stdout is not None
    told = [json.loads(line) for line in process.stdout]
    assert process.wait() == 0
    process.communicate()
    assert {row["stage"] for row in told} >= {"render", "read"}
    assert all(0 <= row["done"] <= row["of"] for row in told)
    report = report_from(json.loads(folder.report(job.key).read_bytes()))
    assert (report.outcome, report.sentence, report.frames) == ("done", "", 30)
    assert report.audit is not None
    assert report.audit.outcome == "agrees", report.audit.sentence
    assert set(report.outputs) == {path.name for path in folder.clips.iterdir()}
    assert {*job.output_names, report.audit.page, report.audit.document} == set(report.outputs)
    assert report.peak_bytes > 5e7
    assert report.seconds >= report.render_s + report.audit_s > 0
    assert folder.up_to_date(job)
    assert left_behind(season) == []
    facts = read_ledger(folder.clips / job.output_names[1]).facts
    assert (folder.clips / facts["sheet"]).resolve() == season / "day1" / "trial.toml"


def test_its_clip_is_the_one_that_render_makes(season: Path) -> None:
    job, folder = the_job(season)
    ended(started(job, folder), 0)
    alone = render(season / "day1", "clip1").clips[0]
    mine = folder.clips / job.output_names[0]
    assert prints_of(mine) == prints_of(alone.path)
    ours, theirs = (read_ledger(path) for path in (folder.clips / job.output_names[1],
                                                   alone.ledger_path))  # fmt: skip
    assert ours.rows.equals(theirs.rows)
    assert {key for key in ours.facts if ours.facts[key] != theirs.facts[key]} == {"sheet"}
    assert ours.facts["inputs"] == theirs.facts["inputs"]
    assert len(probe(mine).sound) == 1


def test_other_units_than_the_sheet_s_are_audited_in_the_clip_s(season: Path) -> None:
    job, folder = the_job(season, '[matrix]\nunits = ["metric"]\n', audit=True)
    ended(started(job, folder), 0)
    assert read_ledger(folder.clips / job.output_names[1]).facts["units"] == "metric"
    report = folder.report_of(job)
    assert report is not None
    assert report.audit is not None
    assert report.audit.outcome == "agrees", report.audit.sentence
    assert {*job.output_names, report.audit.page, report.audit.document} == set(report.outputs)
    document = json.loads((folder.clips / report.audit.document).read_bytes())
    notes = [note for piece in document["pieces"] for note in piece["notes"]]
    assert any("in metric units and the sheet in nautical" in note for note in notes)


def test_it_stops_when_its_parent_is_gone_and_leaves_nothing_half(season: Path) -> None:
    job, folder = the_job(season, 'encoder = "x265"\nquality = "master"\n')
    process = started(job, folder)
    assert process.stdin is not None
    assert process.stdout is not None
    assert "render" in process.stdout.readline()
    process.stdin.close()
    began = time.monotonic()
    assert process.wait(timeout=20) == 130
    assert time.monotonic() - began < 15
    assert not any(folder.clips.glob(f"*{job.key[:12]}*"))
    assert not folder.report(job.key).exists()
    assert left_behind(season) == []
    for stream in (process.stdout, process.stderr):
        assert stream is not None
        stream.close()


def test_a_clip_that_was_damaged_since_is_made_anew(season: Path) -> None:
    """Its report says what it was; its place alone says nothing."""
    job, folder = the_job(season, 'quality = "draft"\nstrip_location = true\n')
    ended(started(job, folder), 0)
    film = folder.clips / job.output_names[0]
    whole = film.read_bytes()
    film.write_bytes(whole[:500])
    assert not folder.up_to_date(job)
    ended(started(job, folder), 0)
    assert prints_of(film)
    assert film.stat().st_size == len(whole)
    assert folder.up_to_date(job)


def test_a_log_that_changed_since_the_plan_is_no_log_of_this_key(
    season: Path, tmp_path: Path
) -> None:
    own = Path(
        shutil.copytree(season, tmp_path / "spring", ignore=shutil.ignore_patterns("*.series"))
    )
    job, folder = the_job(own)
    log = own / "day1" / "gps.nmea"
    text = log.read_text()
    log.write_text(text[: len(text) // 2])
    ended(started(job, folder), 0)
    report = folder.report_of(job)
    assert report is not None
    assert report.outcome == "failed"
    assert "the log 'gps'" in report.sentence
    assert "changed since this clip was planned" in report.sentence
    assert not any(folder.clips.iterdir())


def test_another_machine_does_not_read_a_card_again_to_hash_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It knows the planner's hash by the file's stamp: here one that no file has. Where the stamp
    is another, the file is read, and is not the one that was planned."""
    season = make_season(tmp_path / "spring", trials=1)
    for path in ("bow.mp4", "gps.nmea"):
        os.utime(season / "day1" / path, (1.7e9, 1.7e9))
    align(season / "day1" / "trial.toml")
    job, folder = the_job(season)
    monkeypatch.setenv("TRIALREEL_CACHE", str(tmp_path / "empty"))
    claimed = replace(job, key="f" * 64, inputs={**job.inputs, "footage/1": "0" * 64})
    ended(started(claimed, folder), 0)
    facts = read_ledger(folder.clips / claimed.output_names[1]).facts
    assert facts["inputs"]["footage:bow"] == "0" * 64
    monkeypatch.setenv("TRIALREEL_CACHE", str(tmp_path / "empty too"))
    stamped = replace(claimed, key="e" * 64, stamps={**job.stamps, "footage/1": "1:1"})
    ended(started(stamped, folder), 0)
    report = folder.report_of(stamped)
    assert report is not None
    assert "the footage changed since this clip was planned" in report.sentence


def test_warnings_of_pieces_stay_with_the_clip(season: Path, tmp_path: Path) -> None:
    """Each with the frames that it is of; the pieces themselves are gone."""
    own = Path(
        shutil.copytree(season, tmp_path / "spring", ignore=shutil.ignore_patterns("*.series"))
    )
    job, folder = the_job(own, '[limits]\npiece = "1 s"\n')
    folder.prepare()
    job = replace(job, cuts=((0, 15), (15, 30)))
    for piece in job.pieces:
        ended(started(piece, folder), 0)
        report = folder.report_of(piece)
        assert report is not None
        told = replace(report, warnings=("2 frames cannot be decoded",))
        folder.report(piece.key).write_text(json.dumps(told.as_document()))
    ended(started(job, folder), 0)
    report = folder.report_of(job)
    assert report is not None
    assert report.outcome == "done", report.sentence
    assert "frames 0 to 15: 2 frames cannot be decoded" in report.warnings
    assert "frames 15 to 30: 2 frames cannot be decoded" in report.warnings
    assert not any(folder.pieces.iterdir())


def test_a_damaged_piece_is_dropped_so_that_it_can_be_made_anew(
    season: Path, tmp_path: Path
) -> None:
    own = Path(
        shutil.copytree(season, tmp_path / "spring", ignore=shutil.ignore_patterns("*.series"))
    )
    job, folder = the_job(own)
    folder.prepare()
    job = replace(job, cuts=((0, 15), (15, 30)))
    for piece in job.pieces:
        ended(started(piece, folder), 0)
    film = folder.pieces / job.pieces[1].output_names[0]
    film.write_bytes(bytes(film.stat().st_size))
    ended(started(job, folder), 0)
    report = folder.report_of(job)
    assert report is not None
    assert report.outcome == "failed"
    assert "piece of this clip" in report.sentence
    sound, _damaged = job.pieces
    assert {path.name for path in folder.pieces.iterdir()} == set(sound.output_names)
    assert [folder.up_to_date(piece) for piece in job.pieces] == [True, False]


def test_what_another_is_at_work_on_is_left_to_it(season: Path) -> None:
    job, folder = the_job(season, 'quality = "draft"\n')
    folder.prepare()
    with locked(folder.lock(job.key)):
        ended(started(job, folder), 75)
    assert not folder.report(job.key).exists()


@pytest.mark.parametrize("content", ["", "{}", "[]", '{"schema": "series-job/0"}'])
def test_what_is_no_job_is_told_in_one_line(tmp_path: Path, content: str) -> None:
    process = subprocess.Popen(
        [*WORK, str(tmp_path)], stdin=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    _, said = process.communicate(content + "\n", timeout=60)
    assert process.returncode == 74
    assert len(said.strip().splitlines()) == 1
    assert "Traceback" not in said
