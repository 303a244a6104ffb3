"""The same plan on a Dask cluster with two worker processes, started here."""

from __future__ import annotations

import contextlib
import json
import os
import pty
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Mapping
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pytest
from dry_jobs import babbles, boasts, dry_books, dry_jobs, fails, instantly, kills, slowly, waits
from season import COMMAND, left_behind, make_season, outputs_of, run_series, write_series

from overlay.errors import ClusterError
from overlay.series import cluster, connecting, workers
from overlay.series.asked import series_of
from overlay.series.books import Books
from overlay.series.cluster import AHEAD, HERE, ClusterRun, cluster_at
from overlay.series.folder import SeriesFolder
from overlay.series.job import SHORT, Job
from overlay.series.locks import locked
from overlay.series.on_worker import UnfitError, do_on_worker, what_it_has
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
    names = {one.rsplit("-", 2)[0] for one in seen}
    assert names <= {f"{job.name}-{job.key[:SHORT]}" for job in jobs}


def test_a_long_plan_is_handed_out_bit_by_bit(tmp_path: Path, client: Any) -> None:
    """However many jobs there are, the scheduler has but a few of them at a time. The study in
    tests/bench does it with a hundred thousand."""
    most: list[int] = []

    class Counted(ClusterRun):
        def _submit(self, job: Job, fit: Mapping[str, int]) -> None:
            super()._submit(job, fit)
            most.append(len(self._sent))

    books = dry_books(tmp_path / "long")
    Counted(books=books, client=client, task=instantly).run(dry_jobs(200))
    assert len(books.reports) == 200
    assert {report.outcome for report in books.reports} == {"done"}
    assert max(most) <= AHEAD * 2


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


def test_two_series_on_one_scheduler_get_their_own_jobs(tmp_path: Path, client: Any) -> None:
    """Also where the keys of their jobs are the same, as of one season in two folders."""
    both = [dry_books(tmp_path / "a"), dry_books(tmp_path / "b")]
    runs = [
        threading.Thread(
            target=ClusterRun(books=books, client=client, task=slowly).run, args=(dry_jobs(2),)
        )
        for books in both
    ]
    for run in runs:
        run.start()
    for run in runs:
        run.join(timeout=30)
    for books in both:
        assert [report.outcome for report in books.reports] == ["done", "done"]
        assert len(list(books.folder.jobs.iterdir())) == 2


def test_what_is_done_is_seen_here_or_not_believed(
    tmp_path: Path, client: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster, "SEEN_AFTER_S", 0.5)
    for task, words in ((boasts, "is not to be seen in"), (babbles, "report cannot be read")):
        books = dry_books(tmp_path / task.__name__)
        ClusterRun(books=books, client=client, task=task).run(dry_jobs(1))
        (trouble,) = books.troubles
        assert trouble.outcome == "failed"
        assert words in trouble.sentence


def test_a_job_of_another_run_is_asked_for_again(
    season: Path, client: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its worker does not wait for it."""
    monkeypatch.setattr(cluster, "ASK_AGAIN_S", 2.0)
    write_series(season)
    plan = plan_of(series_of([str(season)]))
    folder = SeriesFolder(path=plan.folder)
    folder.prepare()
    seen: list[tuple[int, int]] = []
    with contextlib.ExitStack() as other:
        other.enter_context(locked(folder.lock(plan.jobs[0].key)))

        def watch(state: State) -> None:
            seen.append((state.elsewhere, len(state.at_work)))
            if state.elsewhere:
                other.close()

        books = Books(name="dry", phase="clips", folder=folder, cores=2, watch=watch)
        ClusterRun(books=books, client=client).run(plan.jobs[:1])
    assert (1, 0) in seen
    assert [report.outcome for report in books.reports] == ["done"]


def test_memory_is_kept_to_on_a_cluster(season: Path, client: Any) -> None:
    write_series(season, '[limits]\nmemory = "60 MB"\n')
    made = run_here(series_of([str(season)]), lambda _state: None, client.scheduler.address)
    assert {report.outcome for report in made.failed} == {"used too much memory"}
    assert all("60 MB allowed" in report.sentence for report in made.failed)


def started(*words: str, **more: str) -> subprocess.Popen[bytes]:
    """A scheduler or worker of Dask, as its command starts it."""
    return subprocess.Popen(
        [sys.executable, "-P", "-m", *words, "--no-dashboard"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        process_group=0,
        env=os.environ | more,
    )


@contextlib.contextmanager
def ended(process: subprocess.Popen[bytes]) -> Iterator[subprocess.Popen[bytes]]:
    try:
        yield process
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()


def without_trialreel(folder: Path, client: Any) -> subprocess.Popen[bytes]:
    """A worker of eight threads that cannot import what it is handed."""
    (folder / "lack" / "overlay").mkdir(parents=True)
    lacks = 'raise ImportError("no trialreel here")\n'
    (folder / "lack" / "overlay" / "__init__.py").write_text(lacks)
    words = ("distributed.cli.dask_worker", client.scheduler.address, "--no-nanny")
    local = ("--nthreads", "8", "--local-directory", str(folder))
    return started(*words, *local, PYTHONPATH=str(folder / "lack"))


def test_a_worker_without_trialreel_gets_no_work(
    tmp_path: Path, client: Any, caplog: pytest.LogCaptureFixture
) -> None:
    """It is named once, and the season is made by the others."""
    with ended(without_trialreel(tmp_path, client)):
        client.wait_for_workers(3, timeout=30)
        books = dry_books(tmp_path / "a")
        ClusterRun(books=books, client=client, task=instantly).run(dry_jobs(40))
    assert {report.outcome for report in books.reports} == {"done"}
    (told,) = [one for one in caplog.messages if "given no jobs" in one]
    assert "cannot be run there" in told
    assert "no trialreel here" in told
    assert [path.name for path in books.folder.path.glob(".token*")] == []


def test_what_a_worker_that_joins_late_cannot_do_others_do(
    tmp_path: Path, client: Any, caplog: pytest.LogCaptureFixture
) -> None:
    """No worker is named with jobs while all are fit, so that it gets some before it is asked."""

    class Late(ClusterRun):
        def _submit(self, job: Job, fit: Mapping[str, int]) -> None:
            if not self._times:  # the workers were asked, and now there is one more
                assert (len(fit), len(self._workers.there)) == (2, 2)
                client.wait_for_workers(3, timeout=30)
            super()._submit(job, fit)

    until = time.monotonic() + 30
    while len(client.nthreads()) != 2 and time.monotonic() < until:  # one of before may be dying
        time.sleep(0.1)
    books = dry_books(tmp_path / "late")
    with ended(without_trialreel(tmp_path, client)):
        run = Late(books=books, client=client, task=slowly)
        run.run(dry_jobs(40))
    assert [report.outcome for report in books.reports] == ["done"] * 40
    assert run._failings.total() > 0
    assert any("no trialreel here" in one for one in caplog.messages)


def test_workers_of_another_version_are_none(
    tmp_path: Path, client: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(workers, "version", lambda _name: "0.0.1")
    monkeypatch.setattr(workers, "NONE_FOR_S", 0.3)
    run = ClusterRun(books=dry_books(tmp_path / "a"), client=client, task=instantly)
    with pytest.raises(ClusterError, match=r"no worker .* \(it has trialreel .*, and here is 0\.0"):
        run.run(dry_jobs(1))


def test_a_folder_that_a_worker_does_not_see_is_not_made(tmp_path: Path) -> None:
    away = tmp_path / "away"
    assert what_it_has(str(away / ".token"))["token"] == ""
    with pytest.raises(UnfitError, match="does not see"):
        do_on_worker(dry_jobs(1)[0].as_document(), str(away), None, version("trialreel"))
    assert not away.exists()


def test_a_worker_of_another_version_does_no_job(tmp_path: Path) -> None:
    """It may be given one before it was asked for its version."""
    books = dry_books(tmp_path / "a")
    with pytest.raises(UnfitError, match=r"and 0\.0\.1 is wanted"):
        do_on_worker({"schema": "series-job/99"}, str(books.folder.path), None, "0.0.1")


def test_workers_are_named_where_not_all_are_fit(tmp_path: Path, client: Any) -> None:
    """To name a thousand of them with each job is what a scheduler would wait for."""
    named: list[frozenset[str]] = []

    class Seen(ClusterRun):
        def _submit(self, job: Job, fit: Mapping[str, int]) -> None:
            # One that is there, and not among the fit.
            fits = dict(list(fit.items())[:1]) if len(named) else fit
            super()._submit(job, fits)
            named.append(next(reversed(self._sent.values())).workers)

    books = dry_books(tmp_path / "named")
    Seen(books=books, client=client, task=instantly).run(dry_jobs(3))
    assert [len(one) for one in named] == [0, 1, 1]
    assert [report.outcome for report in books.reports] == ["done"] * 3


def test_workers_and_schedulers_that_are_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """No workers, then one that dies of a job while others wait there, then no scheduler."""
    place, facts = tmp_path / "scheduler.json", ("--port", "0", "--host", "127.0.0.1")
    paths = os.pathsep.join(one for one in sys.path if one)
    more = {"DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "0", "PYTHONPATH": paths}
    words = ("distributed.cli.dask_scheduler", *facts, "--scheduler-file", str(place))
    with ended(started(*words, **more)) as scheduler:
        until = time.monotonic() + 30
        while not place.exists() and time.monotonic() < until:
            time.sleep(0.05)
        address = json.loads(place.read_text())["address"]
        with cluster_at(address, 1) as there:
            monkeypatch.setattr(workers, "NONE_FOR_S", 0.3)
            books = dry_books(tmp_path / "none")
            with pytest.raises(ClusterError, match="no worker of the Dask cluster is there"):
                ClusterRun(books=books, client=there, task=instantly).run(dry_jobs(1))
            monkeypatch.undo()

            local = ("--nthreads", "1", "--local-directory", str(tmp_path))
            worker = started("distributed.cli.dask_worker", address, *local, PYTHONPATH=paths)
            with ended(worker):
                there.wait_for_workers(1, timeout=30)
                books = dry_books(tmp_path / "killed")
                ClusterRun(books=books, client=there, task=kills).run(dry_jobs(3))
                told = [trouble.sentence for trouble in books.troubles]
                assert told == ["1 workers died while they were at it."]
                assert sorted(one.outcome for one in books.reports) == ["done", "done", "killed"]

                books = dry_books(tmp_path / "gone")
                threading.Timer(1.5, scheduler.kill).start()
                with pytest.raises(ClusterError, match="the Dask scheduler is gone"):
                    ClusterRun(books=books, client=there, task=waits).run(dry_jobs(3))
                assert books.reports == []
                assert list(books.folder.jobs.iterdir()) == []
    assert "Traceback" not in capfd.readouterr().err


def test_ctrl_c_at_a_terminal_is_a_sentence(season: Path) -> None:
    """The terminal sends it to the workers too; these say nothing of it, and end."""
    pid, terminal = pty.fork()
    if pid == 0:
        words = [*COMMAND, "series", "run", "--cluster", "here", str(season)]
        os.execve(words[0], words, os.environ | {"COLUMNS": "100"})
    told, asked, until = b"", False, time.monotonic() + 90
    with contextlib.suppress(OSError):  # which is how a terminal tells that all have left it
        while time.monotonic() < until and (more := os.read(terminal, 65536)):
            told += more
            if b"begins" in told and not asked:
                os.write(terminal, b"\x03")
                asked = True
    _, status = os.waitpid(pid, 0)
    os.close(terminal)
    assert asked, told.decode()
    assert os.waitstatus_to_exitcode(status) == 130
    assert b"Traceback" not in told
    assert b"KeyboardInterrupt" not in told
    assert left_behind(season) == []


def test_no_scheduler_is_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connecting, "CONNECT_S", 0.5)
    for address, words in (
        ("tcp://127.0.0.1:9", "no Dask scheduler answers at tcp://127.0.0.1:9"),
        ("nonsense://x", "no Dask scheduler answers at nonsense://x"),
        ("inproc://x", "no Dask scheduler answers at inproc://x"),
        ("", "the address of the Dask scheduler is empty"),
    ):
        with pytest.raises(ClusterError, match=re.escape(words)), cluster_at(address, 2):
            pass


def test_cores_are_those_of_the_cluster(season: Path) -> None:
    ran = run_series(season, "--cluster", "tcp://127.0.0.1:9", "--cores", "2")
    assert ran.returncode == 2
    assert "leave out --cores" in ran.stderr
    assert "Traceback" not in ran.stderr
