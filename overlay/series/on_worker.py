"""What a worker of a cluster does with a job: it runs it as a series of one, on its own machine."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from overlay.series.books import Books
from overlay.series.folder import SeriesFolder
from overlay.series.job import job_from
from overlay.series.local import Budget, LocalRun
from overlay.series.machine import memory_here_bytes
from overlay.series.outcome import JobReport
from overlay.series.state import State

TOPIC = "trialreel-series"
"""On which workers tell how far their jobs are."""

TOLD_EVERY_S = 5.0
MEMORY_SHARE = 0.8


def do_on_worker(
    document: Mapping[str, Any], folder: str, memory_bytes: int | None
) -> Mapping[str, Any]:
    """Do one job; returns the document of its report.

    Parameters
    ----------
    document, folder
        The job's, and the path of the series' folder.
    memory_bytes
        What it may take; None for the worker's share of its machine's.
    """
    job, place = job_from(document), SeriesFolder(path=Path(folder))
    books = Books(name=job.name, phase="job", folder=place, cores=1, watch=_Teller(folder))
    budget = Budget(cores=1, memory_bytes=memory_bytes or _share_bytes())
    LocalRun(books=books, budget=budget).run([job])
    made = next((one for one in books.reports if one.key == job.key), None)
    known = made or place.report_of(job) or JobReport(key=job.key, outcome="done", job=document)
    return known.as_document()


class CalledBackError(Exception):
    """The job is wanted no longer."""


class _Teller:
    """Tells the run how far the job is, through the scheduler; and ends it once it is called back.

    Dask does not interrupt what a worker is at, so that this has to look for itself.
    """

    def __init__(self, folder: str) -> None:
        from distributed import get_worker

        self._worker, self._folder = get_worker(), folder
        self._key = self._worker.get_current_task()
        self._told_s, self._over = 0.0, False

    def __call__(self, state: State) -> None:
        task = self._worker.state.tasks.get(self._key)
        if not self._over and (task is None or task.state == "cancelled"):
            self._over = True
            raise CalledBackError
        now = time.monotonic()
        if now - self._told_s >= TOLD_EVERY_S:
            self._told_s = now
            for one in state.at_work:
                row = {"folder": self._folder, "at_work": asdict(one)}
                self._worker.log_event(TOPIC, row)


def _share_bytes() -> int:
    """What a job may take beside the others of its worker."""
    from distributed import get_worker

    worker = get_worker()
    limit = worker.memory_manager.memory_limit or MEMORY_SHARE * memory_here_bytes()
    return int(limit / max(1, worker.state.nthreads))
