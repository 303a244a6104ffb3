"""A long clip is made in pieces and joined: the same clip, and no more is lost than a piece."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from season import left_behind, make_season, outputs_of, prints_of, run_series, write_series

from overlay.ledger import read_ledger, read_prints
from overlay.series.asked import series_of
from overlay.series.folder import SeriesFolder
from overlay.series.plan import Plan, plan_of
from overlay.workflow.align import align

pytestmark = pytest.mark.whole_road

IN_PIECES = '[limits]\ncores = 2\npiece = "0.9 s"\n'


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = make_season(tmp_path_factory.mktemp("season") / "spring", trials=1, clip_s=2.5)
    align(folder / "day1" / "trial.toml")
    return folder


@pytest.fixture
def season(made: Path, tmp_path: Path) -> Path:
    own = Path(shutil.copytree(made, tmp_path / "spring"))
    write_series(own, IN_PIECES)
    return own


def planned(season: Path) -> Plan:
    return plan_of(series_of([str(season)]))


def only(season: Path, ending: str) -> Path:
    (path,) = (season / "season.series" / "clips").glob(f"*{ending}")
    return path


def test_a_clip_in_pieces_has_the_ledger_of_the_whole(season: Path, made: Path) -> None:
    """Byte for byte, and with it the prints of the pictures before they were encoded; time stamps
    and sound are those of the whole too."""
    whole = Path(shutil.copytree(made, season.parent / "whole" / "spring"))
    write_series(whole, "[limits]\ncores = 2\n", audit=True)
    write_series(season, IN_PIECES, audit=True)
    for folder in (whole, season):
        ran = run_series(folder)
        assert ran.returncode == 0, ran.stdout + ran.stderr
        assert "1 of 1 clip done" in ran.stdout
    ledgers = [only(folder, ".ledger.parquet") for folder in (whole, season)]
    assert ledgers[0].read_bytes() == ledgers[1].read_bytes()
    prints = read_prints(ledgers[1])
    assert prints is not None
    assert (
        len(prints) == len(prints_of(only(season, ".mp4"))) == planned(season).jobs[0].cuts[-1][1]
    )
    assert read_ledger(ledgers[1]).rows["frame"].nunique() == len(prints)
    assert [pts for pts, _ in prints_of(only(season, ".mp4"))] == [
        pts for pts, _ in prints_of(only(whole, ".mp4"))
    ]
    assert left_behind(season) == []
    assert list((season / "season.series" / "pieces").iterdir()) == []
    report = json.loads(next((season / "season.series" / "jobs").glob("*.json")).read_bytes())
    assert report["audit"]["outcome"] == "agrees"


def test_what_is_whole_is_kept_piece_by_piece(season: Path) -> None:
    (job,) = planned(season).jobs
    folder = SeriesFolder(path=season / "season.series")
    assert len(job.pieces) == 3
    assert run_series(season).returncode == 0
    undisturbed = outputs_of(season)
    # As a run that was killed leaves it: two pieces are there, the clip is not.
    for name in job.output_names:
        (folder.clips / name).unlink()
    folder.report(job.key).unlink()
    assert run_series(season).returncode == 0
    assert outputs_of(season) == undisturbed


def test_a_piece_that_cannot_be_made_is_why_its_clip_is_not(season: Path) -> None:
    film = season / "day1" / "bow.mp4"
    plan = planned(season)
    # The footage goes away between the plan and the work: each piece says so, and so its clip.
    from overlay.series.books import Books
    from overlay.series.local import Budget, LocalRun

    folder = SeriesFolder(path=plan.folder)
    folder.prepare()
    film.unlink()
    books = Books(name="season", phase="clips", folder=folder, cores=2, watch=lambda _state: None)
    LocalRun(books=books, budget=Budget(cores=2, memory_bytes=2 * 10**9)).run(plan.jobs)
    (trouble,) = books.troubles
    assert trouble.name == "day1: clip1"
    assert "its frames " in trouble.sentence
    assert "bow.mp4" in trouble.sentence
    assert left_behind(season) == []
