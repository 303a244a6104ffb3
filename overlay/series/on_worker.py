"""What a worker of a cluster does with a job: it runs it as a series of one, on its own machine."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import asdict
from importlib.metadata import version
from pathlib import Path
from typing import Any

from overlay.series.books import Books
from overlay.series.folder import SeriesFolder
from overlay.series.job import Job, job_from
from overlay.series.local import Budget, LocalRun
from overlay.series.machine import memory_here_bytes
from overlay.series.outcome import JobReport
from overlay.series.state import AtWork, State

TOPIC = "trialreel-series"
"""On which workers tell how far their jobs are."""

TOLD_EVERY_S = 5.0
MEMORY_SHARE = 0.8


def what_it_has(token: str) -> dict[str, str]:
    """What a worker is asked before it gets work: its version, and what it reads in a file that
    lies in the series' folder; nothing where it does not see it."""
    try:
        text = Path(token).read_text(encoding="ascii")
    except (OSError, ValueError):
        text = ""
    return {"version": version("trialreel"), "token": text}


class UnfitError(Exception):
    """The worker does not see the folder of the series, or is of another version than its run."""


class CalledBackError(Exception):
    """The job is wanted no longer."""


class BusyError(Exception):
    """Another run is at work on the job."""


def do_on_worker(
    document: Mapping[str, Any], folder: str, memory_bytes: int | None, wanted: str
) -> Mapping[str, Any]:
    """Do one job; returns the document of its report.

    Parameters
    ----------
    document, folder
        The job's, and the path of the series' folder.
    memory_bytes
        What the jobs of this worker may take together; None for what the worker may.
    wanted
        The version of trialreel that the run has.

    Raises
    ------
    UnfitError
        Where the version is another, or the folder is not there: it is not made, for then nobody
        would miss it. One that joins a cluster may be given jobs before it is asked.
    CalledBackError
        Where the run wants the job no longer.
    """
    if wanted != version("trialreel"):
        message = f"it has trialreel {version('trialreel')}, and {wanted} is wanted"
        raise UnfitError(message)
    job, place = job_from(document), SeriesFolder(path=Path(folder))
    if not place.jobs.is_dir():
        message = f"it does not see {folder}"
        raise UnfitError(message)
    teller = _Teller(job)
    books = Books(name=job.name, phase="job", folder=place, cores=1, watch=teller)
    budget = Budget(cores=1, memory_bytes=_share_bytes(memory_bytes))
    try:
        LocalRun(books=books, budget=budget).run([job])
    except BusyError:
        return JobReport(job=job, outcome="worked on by another").as_document()
    made = next((one for one in books.reports if one.key == job.key), None)
    known = made or place.report_of(job) or JobReport(job=job, outcome="done")
    return known.as_document()


class _Teller:
    """Tells the run how far the job is, through the scheduler; and ends it once it is called back,
    or is found to be another run's.

    Dask does not interrupt what a worker is at, so that this has to look for itself.
    """

    def __init__(self, job: Job) -> None:
        from distributed import get_worker

        self._worker = get_worker()
        self._task = self._worker.get_current_task()
        self._told_s, self._over = time.monotonic() - TOLD_EVERY_S, False
        # At once: where this worker dies, it is known to have been at it.
        self._tell(AtWork(key=job.key, name=job.name))

    def __call__(self, state: State) -> None:
        task = self._worker.state.tasks.get(self._task)
        if not self._over and (task is None or task.state == "cancelled"):
            self._over = True
            raise CalledBackError
        if not self._over and state.elsewhere:
            self._over = True
            raise BusyError
        now = time.monotonic()
        if now - self._told_s >= TOLD_EVERY_S:
            self._told_s = now
            for one in state.at_work:
                self._tell(one)

    def _tell(self, one: AtWork) -> None:
        self._worker.log_event(TOPIC, {"task": str(self._task), "at_work": asdict(one)})


def _share_bytes(stated_bytes: int | None) -> int:
    """What a job may take beside the others of its worker."""
    from distributed import get_worker

    worker = get_worker()
    limit = stated_bytes or worker.memory_manager.memory_limit or MEMORY_SHARE * memory_here_bytes()
    return int(limit / max(1, worker.state.nthreads))
