"""A whole series on this machine: done, done again, broken in every way, and mended."""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from season import (
    COMMAND,
    killed_child,
    killed_parent,
    left_behind,
    make_season,
    outputs_of,
    run_series,
    write_series,
)

from overlay.series.asked import series_of
from overlay.series.books import Books
from overlay.series.folder import SeriesFolder
from overlay.series.local import Budget, LocalRun
from overlay.series.plan import plan_of
from overlay.series.run import run_series as run_here
from overlay.series.state import State
from overlay.workflow.align import align

pytestmark = pytest.mark.whole_road


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three tied trials, which no test runs in itself."""
    folder = make_season(tmp_path_factory.mktemp("season") / "spring", trials=3)
    for day in folder.glob("day*"):
        align(day / "trial.toml")
    return folder


@pytest.fixture
def season(made: Path, tmp_path: Path) -> Path:
    own = Path(shutil.copytree(made, tmp_path / "spring"))
    write_series(own, "[limits]\ncores = 2\n")
    return own


def nobody(_state: State) -> None:
    """Watch without a word."""


@pytest.fixture(scope="module")
def undisturbed(made: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, object]:
    """What a run makes that nobody disturbs."""
    own = Path(shutil.copytree(made, tmp_path_factory.mktemp("quiet") / "spring"))
    write_series(own, "[limits]\ncores = 2\n")
    ran = run_series(own)
    assert ran.returncode == 0, ran.stderr
    return outputs_of(own)


def test_a_second_run_makes_only_what_is_missing_or_out_of_date(
    season: Path, undisturbed: dict[str, object]
) -> None:
    first = run_series(season)
    assert first.returncode == 0, first.stderr
    assert "season  3 of 3 clips done" in first.stdout
    assert outputs_of(season) == undisturbed
    assert left_behind(season) == []
    clips = season / "season.series" / "clips"
    stamps = {path.name: path.stat().st_mtime_ns for path in clips.iterdir()}
    again = run_series(season)
    assert (again.returncode, "3 of them up to date before" in again.stdout) == (0, True)
    assert {path.name: path.stat().st_mtime_ns for path in clips.iterdir()} == stamps
    next(clips.glob("day2*.mp4")).unlink()
    text = (season / "day3/trial.toml").read_text()
    (season / "day3/trial.toml").write_text(text.replace('stop = "3.0 s"', 'stop = "2.5 s"'))
    mended = json.loads(run_series(season, "--json").stdout)
    assert sorted(row["job"]["trial"] for row in mended["reports"]) == ["day2", "day3"]
    assert len(mended["up_to_date"]) == 1
    assert "older  1 clip there that this plan does not have" in run_series(season).stdout


def test_a_parent_killed_at_any_instant_loses_the_jobs_in_flight_and_no_more(
    season: Path, undisturbed: dict[str, object]
) -> None:
    """Children end with their parent, and what was done is not done again; the study in tests/bench
    does it thirty times."""
    instants = random.Random(9)
    killed = 0
    for _ in range(3):
        killed += killed_parent(season, instants.uniform(0.0, 3.0))
        whole = outputs_of(season)
        assert {name: whole[name] for name in whole if name.endswith(".mp4")}.items() <= (
            undisturbed.items()
        )
    assert killed, "it was over before it was killed"
    done = {path.name for path in (season / "season.series/jobs").glob("*.json")}
    last = run_series(season)
    assert last.returncode == 0, last.stderr
    assert f"{len(done)} of them up to date before" in last.stdout or not done
    assert outputs_of(season) == undisturbed
    assert left_behind(season) == []


def test_a_child_killed_at_any_instant_is_tried_again(
    season: Path, undisturbed: dict[str, object]
) -> None:
    instants = random.Random(10)
    killed = 0
    for _ in range(2):
        killed += killed_child(season, instants.uniform(0.0, 2.5))
        assert outputs_of(season) == undisturbed
        assert left_behind(season) == []
        shutil.rmtree(season / "season.series")
    assert killed


def test_two_runs_at_once_share_the_work(season: Path, undisturbed: dict[str, object]) -> None:
    words = [*COMMAND, "series", "run", "--json", str(season)]
    runs = [subprocess.Popen(words, stdout=subprocess.PIPE, text=True) for _ in range(2)]
    told = [json.loads(run.communicate(timeout=120)[0]) for run in runs]
    assert [run.returncode for run in runs] == [0, 0]
    keys = [report["key"] for one in told for report in one["reports"]]
    assert len(keys) == len(set(keys)) == 3, "each clip was made once"
    assert all(len(one["reports"]) + len(one["up_to_date"]) == 3 for one in told)
    assert outputs_of(season) == undisturbed
    assert left_behind(season) == []


def test_ctrl_c_stops_the_children_and_leaves_no_half_file(season: Path) -> None:
    run = subprocess.Popen(
        [*COMMAND, "series", "run", str(season)], stderr=subprocess.PIPE, text=True
    )
    folder = SeriesFolder(path=season / "season.series")
    until = time.monotonic() + 60
    while time.monotonic() < until and not any(
        job.stage == "render" for state in folder.states() for job in state.at_work
    ):
        time.sleep(0.05)
    pids = [job.pid for state in folder.states() for job in state.at_work]
    assert pids
    run.send_signal(signal.SIGINT)
    _, said = run.communicate(timeout=30)
    assert run.returncode == 130
    assert "interrupted; nothing half-written was kept" in said
    assert not any(Path(f"/proc/{pid}").exists() for pid in pids)
    assert left_behind(season) == []


def broken(season: Path) -> None:
    """Of six trials one has footage that is none, one a bad sheet, and one will not end."""
    for name in ("day4", "day5", "day6"):
        shutil.copytree(season / "day1", season / name)
    (season / "day4/bow.mp4").write_bytes(b"no film at all")
    sheet = season / "day5/trial.toml"
    sheet.write_text(sheet.read_text().replace("schema", "shcema"), encoding="utf-8")


def test_each_fault_is_one_line_and_the_rest_is_done(season: Path) -> None:
    broken(season)
    write_series(season, '[limits]\ncores = 2\ntimeout = "30 s"\n')

    def hold_up(state: State) -> None:
        """Stop the process of one job, as a system that hangs would."""
        for job in state.at_work:
            if job.name.startswith("day6") and job.stage != "tie" and state.phase == "clips":
                os.kill(job.pid, signal.SIGSTOP)

    made = run_here(series_of([str(season)]), hold_up)
    troubles = {one.job.trial: (one.outcome, one.sentence) for one in made.failed}
    assert set(troubles) == {"day6"}
    assert troubles["day6"] == ("timed out", "it was not done after 30 s, and was ended.")
    said = {one.trial: one.sentence for one in made.refused}
    assert set(said) == {"day4", "day5"}
    assert "bow.mp4" in said["day4"]
    assert "shcema: no such key; did you mean 'schema'" in said["day5"]
    assert not any("\n" in sentence for sentence in said.values())
    done = {one.job.trial for one in made.reports if one.outcome == "done"}
    assert done == {"day1", "day2", "day3"}
    assert not made.all_well
    assert left_behind(season) == []
    shown = subprocess.run(
        [*COMMAND, "series", "status", str(season)], capture_output=True, text=True, check=False
    )
    assert shown.returncode == 1
    assert "3 of 4 clips up to date, nothing at work" in shown.stdout
    assert "timed out  day6: clip1" in shown.stdout


def test_a_job_that_takes_too_much_memory_fails_alone(season: Path, tmp_path: Path) -> None:
    """A render of 640×360 peaks below 260 MB here, one of 2560×1440 above 400."""
    large = make_season(tmp_path / "large", trials=1, size=(2560, 1440), film_s=3.5)
    shutil.rmtree(season / "day3")
    shutil.move(large / "day1", season / "day3")
    write_series(season, '[limits]\ncores = 2\nmemory = "330 MB"\n')
    ran = run_series(season)
    assert ran.returncode == 1
    assert "2 of 3 clips done, 1 failed" in ran.stdout
    assert "used too much memory  day3: clip1" in ran.stdout
    assert "more than the 330 MB allowed" in ran.stdout.replace("\n  ", " ")
    assert left_behind(season) == []


def test_what_takes_too_much_together_is_tried_once_more_alone(season: Path) -> None:
    """Estimates of nothing let all begin at once, so that together they have more than they may;
    each of them alone has less."""
    plan = plan_of(series_of([str(season)]))
    jobs = [
        replace(job, guess=replace(job.guess, memory_bytes=1, seconds=job.guess.seconds + n))
        for n, job in enumerate(plan.jobs)
    ]
    folder = SeriesFolder(path=plan.folder)
    folder.prepare()
    books = Books(name="season", phase="clips", folder=folder, cores=3, watch=nobody)
    LocalRun(books=books, budget=Budget(cores=3, memory_bytes=300_000_000)).run(jobs)
    assert [report.outcome for report in books.reports] == ["done"] * 3
    assert max(report.attempts for report in books.reports) == 2
    assert left_behind(season) == []


FILLS = """
import json, sys
from pathlib import Path
from overlay.series.asked import series_of
from overlay.series.run import run_series

disk, sheets = Path(sys.argv[1]), sys.argv[2]
(disk / "series.toml").write_text(
    f'schema = "series/1"\\nname = "season"\\ntrials = ["{sheets}"]\\naudit = false\\n'
    '[limits]\\ncores = 1\\n'
)
filler = disk / "filler"

def fill(state):
    if any(job.stage == "render" for job in state.at_work) and not filler.exists():
        try:
            with filler.open("wb") as file:
                while True:
                    file.write(bytes(4096))
                    file.flush()
        except OSError:
            pass

def told(made):
    return {
        "outcomes": [report.outcome for report in made.reports],
        "sentences": [report.sentence for report in made.reports],
        "well": made.all_well,
        "left": [str(p) for p in disk.rglob(".*") if ".making" in p.name or ".part" in p.name],
    }

full = told(run_series(series_of([str(disk)]), fill))
filler.unlink()
print(json.dumps([full, told(run_series(series_of([str(disk)]), lambda state: None))]))
"""

MOUNTED = 'mount -t tmpfs -o size=40M tmpfs "$0" && exec "$@"'


def test_a_full_disk_is_told_and_nothing_half_is_left(season: Path, tmp_path: Path) -> None:
    """A disk of 40 MB, in memory and in a name space of its own, which something else fills while
    the first clip is rendered. The clip is long enough for this to be seen."""
    disk = tmp_path / "disk"
    disk.mkdir()
    alone = ["unshare", "--user", "--map-root-user", "--mount", "sh", "-c", MOUNTED, str(disk)]
    tried = subprocess.run([*alone, "true"], capture_output=True, text=True, check=False)
    if tried.returncode:
        pytest.skip(f"no disk can be mounted here: {tried.stderr.strip()}")
    for sheet in season.glob("day*/trial.toml"):
        sheet.write_text(sheet.read_text().replace('start = "2.0 s"', 'start = "0.0 s"'))
        align(sheet)
    words = [sys.executable, "-P", "-c", FILLS, str(disk), str(season / "day*/trial.toml")]
    ran = subprocess.run([*alone, *words], capture_output=True, text=True, check=False, timeout=170)
    assert ran.returncode == 0, ran.stderr
    full, mended = json.loads(ran.stdout)
    assert "failed" in full["outcomes"]
    assert full["well"] is False
    sentences = {sentence for sentence in full["sentences"] if sentence}
    assert all("free" in one or "disk is full" in one for one in sentences), sentences
    assert full["left"] == []
    assert mended["outcomes"][-1:] == ["done"]
    assert mended["well"] is True
