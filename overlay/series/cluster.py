"""The jobs of a series on a Dask cluster: the same plan, done by workers on any machine.

Every worker sees the series' folder and its inputs under the same paths. A task is one job, which
its worker does as a run on one machine would: in a process of its own, within its limits, with its
locks and its reports. So a worker that dies takes one process with it, the scheduler gives the job
to another, and a run here and one on a cluster share what is made.

However long the plan is, only so many jobs are with the scheduler at once as keep its workers busy,
and no job is sent before the pieces are there that it is joined from.
"""

from __future__ import annotations

import logging
import queue
import time
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from overlay.errors import ClusterError
from overlay.series.books import Books
from overlay.series.endings import interruptible
from overlay.series.job import SHORT, Job
from overlay.series.on_worker import TOPIC, do_on_worker
from overlay.series.outcome import JobReport, report_from
from overlay.series.state import AtWork

if TYPE_CHECKING:
    from distributed import Client, Future

Task = Callable[[Mapping[str, Any], str, int | None], Mapping[str, Any]]

HERE = "here"
"""The cluster that is started on the spot, instead of an address."""

AHEAD = 3
"""Jobs that are with the scheduler for each of its threads, so that none waits for us."""

TICK_S = 0.5
CONNECT_S = 10
WORKER_DEATHS = 3
"""So many workers may die over a job before the job is held to be what killed them."""


@contextmanager
def cluster_at(address: str, cores: int) -> Iterator[Client]:
    """A client of the cluster at an address, or of one that is started here with so many workers.

    Raises
    ------
    ClusterError
        Where Dask is not installed, nothing answers at the address, or it is of another version.
    """
    try:
        import dask
        from distributed import Client, LocalCluster
    except ImportError as error:
        raise ClusterError(
            "a cluster needs Dask, which is not installed",
            advice="install trialreel with its extra: pip install 'trialreel[cluster]'",
        ) from error
    quiet = {"distributed.scheduler.allowed-failures": WORKER_DEATHS}
    with dask.config.set(quiet):
        if address != HERE:
            try:
                client = Client(address, timeout=CONNECT_S)
            except (OSError, ValueError, TypeError) as error:
                raise ClusterError(
                    f"no Dask scheduler answers at {address}",
                    advice="start one with `dask scheduler`, or write --cluster here",
                ) from error
            with client:
                yield client
            return
        with (
            LocalCluster(
                n_workers=cores,
                threads_per_worker=1,
                processes=True,
                dashboard_address="127.0.0.1:0",
                silence_logs=logging.CRITICAL,
            ) as cluster,
            Client(cluster) as client,
        ):
            yield client


@dataclass(slots=True, kw_only=True)
class ClusterRun:
    """Runs jobs on a cluster, and keeps the books of them.

    Parameters
    ----------
    memory_bytes
        What a job may take on its worker; None for the worker's own limit.
    task
        What a worker does with a job: its document, the folder and the limit go in, its report
        comes out.
    """

    books: Books
    client: Client
    memory_bytes: int | None = None
    task: Task = do_on_worker
    _waiting: deque[Job] = field(default_factory=deque)
    _unready: dict[str, Job] = field(default_factory=dict)
    _sent: dict[str, tuple[Job, Future[Any]]] = field(default_factory=dict)
    _began_s: dict[str, float] = field(default_factory=dict)
    _told: dict[str, AtWork] = field(default_factory=dict)
    _ended: queue.SimpleQueue[Future[Any]] = field(default_factory=queue.SimpleQueue)

    def run(self, jobs: Sequence[Job]) -> None:
        """Do all jobs that are not up to date; returns when nothing is left to do.

        Raises
        ------
        ClusterError
            Where the scheduler is lost.
        KeyboardInterrupt
            Where it was interrupted; the jobs that workers were at are called back.
        """
        self.books.cores = self._threads()
        for job in self.books.open(jobs):
            if job.cuts and self.books.fate(job) is None:
                self._unready[job.key] = job
            else:
                self._waiting.append(job)
        self.client.subscribe_topic(TOPIC, self._hear)
        with interruptible():
            try:
                self._loop()
            finally:
                self._call_back()
                self._tell()
                self.client.unsubscribe_topic(TOPIC)

    def _loop(self) -> None:
        while self._waiting or self._sent or self._unready:
            self._send()
            try:
                self._take(self._ended.get(timeout=TICK_S))
                while True:
                    self._take(self._ended.get_nowait())
            except queue.Empty:
                pass
            if self.client.status not in ("running", "connecting"):
                raise ClusterError(
                    "the Dask scheduler is gone",
                    advice="start it, and run the series again: what is whole is kept",
                )
            if self.books.due:
                self._tell()

    def _send(self) -> None:
        """Hand jobs to the scheduler, as many as keep it busy."""
        most = AHEAD * self._threads()
        while self._waiting and len(self._sent) < most:
            job = self._waiting.popleft()
            missing = self.books.fate(job)
            if missing:
                self.books.hopeless(job, missing)
            elif self.books.folder.up_to_date(job):
                self.books.found(job)
                self._release(job)
            else:
                self._submit(job)

    def _threads(self) -> int:
        return max(1, sum(int(threads) for threads in self.client.nthreads().values()))

    def _submit(self, job: Job) -> None:
        future = self.client.submit(
            self.task,
            job.as_document(),
            str(self.books.folder.path),
            self.memory_bytes,
            key=f"{job.name}-{job.key[:SHORT]}",
            pure=False,
            priority=int(job.seconds),
            retries=0,
        )
        self._sent[str(future.key)] = (job, future)
        future.add_done_callback(self._ended.put)

    def _take(self, future: Future[Any]) -> None:
        """Book what has become of a job."""
        sent = self._sent.pop(str(future.key), None)
        if sent is None:
            return
        job = sent[0]
        told = self._told.pop(job.key, None)
        report = self._report(future, job)
        self.books.took_s[job.key] = report.seconds or (told.seconds if told else 0.0)
        kept = report.outcome == "done" and report.attempts == 1
        self.books.book(report, job, keep=not kept and self.books.folder.report_of(job) is None)
        self._release(job)

    def _report(self, future: Future[Any], job: Job) -> JobReport:
        if future.status == "finished":
            return report_from(future.result())
        if future.status == "cancelled":
            return JobReport(key=job.key, outcome="failed", sentence="its scheduler dropped it.")
        error = future.exception()
        if type(error).__name__ == "KilledWorker":
            sentence = f"{WORKER_DEATHS + 1} workers died while they were at it."
            return JobReport(key=job.key, outcome="killed", sentence=sentence,
                             attempts=WORKER_DEATHS + 1)  # fmt: skip
        words = " ".join(str(error).split()) or type(error).__name__
        return JobReport(
            key=job.key, outcome="failed", sentence=f"its worker could not do it ({words})."
        )

    def _release(self, job: Job) -> None:
        """Let a clip be joined once its last piece has ended."""
        clip = self._unready.get(job.whole)
        if clip is not None and self.books.fate(clip) is not None:
            self._waiting.appendleft(self._unready.pop(job.whole))

    def _hear(self, event: tuple[float, Any]) -> None:
        """Take note of what a worker tells of a job; called in the client's own thread."""
        row = event[1]
        if isinstance(row, Mapping) and row.get("folder") == str(self.books.folder.path):
            one = AtWork(**row["at_work"])
            self._told[one.key] = one

    def _tell(self) -> None:
        sent = {job.key: job for job, _ in self._sent.values()}
        at_work = [
            replace(one, left_s=self.books.left_s(sent[one.key], one.seconds))
            for one in list(self._told.values())
            if one.key in sent
        ]
        working = {one.key for one in at_work}
        queued = [job for job in sent.values() if job.key not in working]
        self.books.tell(at_work, [*queued, *self._waiting, *self._unready.values()], 0)

    def _call_back(self) -> None:
        """Call back what is with the scheduler; children end with their tasks."""
        futures = [future for _, future in self._sent.values()]
        self._sent.clear()
        if futures and self.client.status == "running":
            self.client.cancel(futures, force=True)
            until = time.monotonic() + TICK_S
            while time.monotonic() < until and not all(f.cancelled() for f in futures):
                time.sleep(0.05)
