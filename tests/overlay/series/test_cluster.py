"""The same plan on a Dask cluster with two worker processes, started here."""

from __future__ import annotations

import os
import shutil
import signal
import time
from collections.abc import Iterator, Mapping
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from season import left_behind, make_season, outputs_of, run_series, write_series

from overlay.errors import ClusterError
from overlay.series.asked import series_of
from overlay.series.books import Books
from overlay.series.cluster import AHEAD, HERE, ClusterRun, cluster_at
from overlay.series.folder import SeriesFolder
from overlay.series.job import Job
from overlay.series.outcome import JobReport
from overlay.series.plan import plan_of
from overlay.series.run import run_series as run_here
from overlay.series.state import State
from overlay.workflow.align import align

pytestmark = pytest.mark.whole_road

MORE = '[limits]\ncores = 2\npiece = "1.2 s"\n'


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = make_season(tmp_path_factory.mktemp("season") / "spring", trials=2, clip_s=2.0)
    for day in folder.glob("day*"):
        align(day / "trial.toml")
    return folder


@pytest.fixture
def season(made: Path, tmp_path: Path) -> Path:
    own = Path(shutil.copytree(made, tmp_path / "spring"))
    write_series(own, MORE)
    return own


@pytest.fixture(scope="module")
def undisturbed(made: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, object]:
    """What a run on this machine makes, without a cluster."""
    own = Path(shutil.copytree(made, tmp_path_factory.mktemp("quiet") / "spring"))
    write_series(own, MORE)
    ran = run_series(own)
    assert ran.returncode == 0, ran.stderr
    return outputs_of(own)


@pytest.fixture(scope="module")
def client() -> Iterator[Any]:
    with cluster_at(HERE, 2) as client:
        yield client


def test_a_cluster_makes_what_one_machine_makes(
    season: Path, undisturbed: dict[str, object]
) -> None:
    ran = run_series(season, "--cluster", "here")
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "2 of 2 clips done" in ran.stdout
    assert outputs_of(season) == undisturbed
    assert left_behind(season) == []
    again = run_series(season)
    assert "2 of them up to date before" in again.stdout


def test_a_worker_killed_half_way_is_replaced(
    season: Path, undisturbed: dict[str, object], client: Any
) -> None:
    killed: list[int] = []

    def kill(state: State) -> None:
        if state.at_work and not killed:
            worker = next(iter(client.processing().items()))[0]
            pid = client.run(os.getpid, workers=[worker])[worker]
            os.kill(pid, signal.SIGKILL)
            killed.append(pid)

    made = run_here(series_of([str(season)]), kill, client.scheduler.address)
    assert killed
    assert made.all_well
    assert outputs_of(season) == undisturbed
    assert left_behind(season) == []
    client.wait_for_workers(2, timeout=30)


def test_jobs_have_names_that_a_dashboard_can_show(season: Path, client: Any) -> None:
    seen: set[str] = set()

    def look(_state: State) -> None:
        seen.update(key for keys in client.processing().values() for key in keys)

    run_here(series_of([str(season)]), look, client.scheduler.address)
    jobs = [one for job in plan_of(series_of([str(season)])).jobs for one in (job, *job.pieces)]
    assert seen
    assert seen <= {f"{job.name}-{job.key[:12]}" for job in jobs}


def instantly(document: Mapping[str, Any], _folder: str, _memory: int | None) -> Mapping[str, Any]:
    """A dry run: a job that is over as soon as it begins."""
    return JobReport(key=str(document["key"]), outcome="done", job=document).as_document()


def test_a_long_plan_is_handed_out_bit_by_bit(season: Path, client: Any) -> None:
    """However many jobs there are, the scheduler has but a few of them at a time. The study in
    tests/bench does it with a hundred thousand."""
    plan = plan_of(series_of([str(season)]))
    jobs = [
        replace(plan.jobs[0], key=sha256(str(n).encode()).hexdigest(), cuts=()) for n in range(600)
    ]
    folder = SeriesFolder(path=plan.folder)
    folder.prepare()
    most: list[int] = []

    class Counted(ClusterRun):
        def _submit(self, job: Job) -> None:
            super()._submit(job)
            most.append(len(self._sent))

    books = Books(name="dry", phase="clips", folder=folder, cores=2, watch=lambda _state: None)
    Counted(books=books, client=client, task=instantly).run(jobs)
    assert len(books.reports) == 600
    assert {report.outcome for report in books.reports} == {"done"}
    assert max(most) <= AHEAD * 2


def fails(_document: Mapping[str, Any], _folder: str, _memory: int | None) -> Mapping[str, Any]:
    """A worker without what the job needs."""
    raise ModuleNotFoundError("No module named 'overlay'")


def test_what_a_worker_cannot_do_is_one_line(season: Path, client: Any) -> None:
    plan = plan_of(series_of([str(season)]))
    folder = SeriesFolder(path=plan.folder)
    folder.prepare()
    books = Books(name="dry", phase="clips", folder=folder, cores=2, watch=lambda _state: None)
    ClusterRun(books=books, client=client, task=fails).run(plan.jobs)
    assert len(books.troubles) == 2
    assert {one.outcome for one in books.troubles} == {"failed"}
    assert all("No module named 'overlay'" in one.sentence for one in books.troubles)


def test_an_interrupted_run_calls_its_jobs_back(season: Path, client: Any) -> None:
    """Workers go on to live, and the processes of the jobs end."""

    def stop(state: State) -> None:
        if state.at_work:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run_here(series_of([str(season)]), stop, client.scheduler.address)
    until = time.monotonic() + 30
    while left_behind(season) and time.monotonic() < until:
        time.sleep(0.2)
    assert left_behind(season) == []
    assert len(client.nthreads()) == 2


def test_no_scheduler_is_one_sentence() -> None:
    with (
        pytest.raises(ClusterError, match=r"no Dask scheduler answers at tcp://127\.0\.0\.1:9"),
        cluster_at("tcp://127.0.0.1:9", 2),
    ):
        pass
    with pytest.raises(ClusterError, match="no Dask scheduler"), cluster_at("nonsense://x", 2):
        pass
