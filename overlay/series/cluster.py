"""The jobs of a series on a Dask cluster: the same plan, done by workers on any machine.

Every worker sees the series' folder and its inputs under the same paths. A task is one job, which
its worker does as a run on one machine would: in a process of its own, within its limits, with its
locks and its reports. So a worker that dies takes one process with it, the scheduler gives the job
to another, and a run here and one on a cluster share what is made.

What a worker says is done is believed once it is seen in the folder here. A job that another run
is at work on is asked for again later.

However long the plan is, only so many jobs are with the scheduler at once as keep its workers busy,
and no job is sent before the pieces are there that it is joined from.
"""

from __future__ import annotations

import queue
import time
from collections import Counter, deque
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from importlib.metadata import version
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from overlay.series.books import Books
from overlay.series.connecting import CONNECT_S, HERE, WORKER_DEATHS, cluster_at
from overlay.series.endings import interruptible
from overlay.series.job import SHORT, Job
from overlay.series.on_worker import TOPIC, UnfitError, do_on_worker
from overlay.series.outcome import JobReport, report_from
from overlay.series.state import AtWork
from overlay.series.workers import Workers, reaching, scheduler_gone

if TYPE_CHECKING:
    from distributed import Client, Future

__all__ = ["AHEAD", "HERE", "ClusterRun", "cluster_at"]

Task = Callable[[Mapping[str, Any], str, int | None, str], Mapping[str, Any]]

AHEAD = 3
"""Jobs that are with the scheduler for each of its threads, so that none waits for us."""

TICK_S = 0.5
ASK_AGAIN_S = 5.0
SEEN_AFTER_S = 10.0
"""So long a shared folder may take to show here what was made on another machine."""

WORKERS_FAILINGS = 2
"""How often a job is sent again that failed for want of something on its worker."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sent:
    """A job that is with the scheduler, and the workers that alone may do it: none is named where
    all of them are fit."""

    job: Job
    future: Future[Any]
    workers: frozenset[str]


@dataclass(slots=True, kw_only=True)
class ClusterRun:
    """Runs jobs on a cluster, and keeps the books of them.

    Parameters
    ----------
    memory_bytes
        What the jobs of one worker may take together; None for the worker's own limit.
    task
        What a worker does with a job: its document, the folder, the limit and our version go in,
        its report comes out, and lies in the folder too.
    """

    books: Books
    client: Client
    memory_bytes: int | None = None
    task: Task = do_on_worker
    _version: str = field(default_factory=lambda: version("trialreel"))
    _run: str = field(default_factory=lambda: uuid4().hex[:8])
    _workers: Workers = field(init=False)
    _waiting: deque[Job] = field(default_factory=deque)
    _unready: dict[str, Job] = field(default_factory=dict)
    _sent: dict[str, _Sent] = field(default_factory=dict)
    _elsewhere: list[tuple[float, Job]] = field(default_factory=list)
    _unseen: list[tuple[float, JobReport]] = field(default_factory=list)
    _times: Counter[str] = field(default_factory=Counter)
    _failings: Counter[tuple[str, str]] = field(default_factory=Counter)
    _there: frozenset[str] | None = None
    _told: dict[str, AtWork] = field(default_factory=dict)
    _ended: queue.SimpleQueue[Future[Any]] = field(default_factory=queue.SimpleQueue)

    def __post_init__(self) -> None:
        self._workers = Workers(client=self.client, folder=self.books.folder.path)

    def run(self, jobs: Sequence[Job]) -> None:
        """Do all jobs that are not up to date; returns when nothing is left to do.

        Raises
        ------
        ClusterError
            Where the scheduler is lost, or no worker can do the jobs.
        KeyboardInterrupt
            Where it was interrupted; the jobs that workers were at are called back.
        """
        for job in self.books.open(jobs):
            if job.cuts and self.books.fate(job) is None:
                self._unready[job.key] = job
            else:
                self._waiting.append(job)
        self._workers.ask_scheduler()
        with reaching(self.client):
            self.client.subscribe_topic(TOPIC, self._hear)
        with interruptible():
            try:
                self._loop()
            finally:
                self._call_back()
                self._tell()
                with suppress(Exception):  # nobody hears it any more, where it is gone
                    self.client.unsubscribe_topic(TOPIC)

    def _loop(self) -> None:
        while self._waiting or self._sent or self._unready or self._elsewhere or self._unseen:
            self._hold_to_scheduler()
            self._look_again()
            self._send()
            with suppress(queue.Empty):
                self._take(self._ended.get(timeout=TICK_S))
                while True:
                    self._take(self._ended.get_nowait())
            if self.books.due:
                self._tell()

    def _hold_to_scheduler(self) -> None:
        """Where it is lost, the client drops all jobs, of which none has come to an end."""
        if self.client.status != "running":
            raise scheduler_gone()

    def _send(self) -> None:
        """Hand jobs to the scheduler, as many as keep it busy."""
        fit = self._workers.fit()
        threads = sum(fit.values())
        self.books.cores = max(1, threads)
        self._take_from_the_dead()
        while self._waiting and len(self._sent) < AHEAD * threads:
            job = self._waiting.popleft()
            missing = self.books.fate(job)
            if missing:
                self.books.hopeless(job, missing)
            elif self.books.folder.up_to_date(job):
                self.books.found(job)
                self._release(job)
            else:
                self._submit(job, fit)

    def _submit(self, job: Job, fit: Mapping[str, int]) -> None:
        self._times[job.key] += 1
        # Two runs may want the same job of one scheduler, each for its own folder: the run is part
        # of the name, and last, so that a dashboard still tells jobs by their first words.
        name = f"{job.name}-{job.key[:SHORT]}-{self._run}-{self._times[job.key]}"
        # To name them costs the scheduler time for each of them, with each job.
        named = frozenset() if fit.keys() == self._workers.there else frozenset(fit)
        with reaching(self.client):
            future = self.client.submit(
                _found_there(self.task),
                job.as_document(),
                str(self.books.folder.path),
                self.memory_bytes,
                self._version,
                key=name,
                pure=False,
                priority=int(job.seconds),
                retries=0,
                workers=list(named) or None,
            )
        self._sent[name] = _Sent(job=job, future=future, workers=named)
        future.add_done_callback(self._ended.put)

    def _take_from_the_dead(self) -> None:
        """Send jobs again whose workers are all gone: the scheduler would wait for these."""
        if self._workers.there is self._there:
            return  # as it was: with a thousand workers this is a look at three thousand jobs
        self._there = self._workers.there
        for name, one in list(self._sent.items()):
            lost = one.workers and one.workers.isdisjoint(self._there)
            if not lost or one.future.status != "pending":
                continue
            del self._sent[name]
            with reaching(self.client):
                self.client.cancel([one.future], force=True)
            if self._told.pop(one.job.key, None) is None:
                self._waiting.appendleft(one.job)
            elif not self._once_more(one.job, "its worker died", WORKER_DEATHS):
                self._book_killed(one.job, WORKER_DEATHS + 1)

    def _take(self, future: Future[Any]) -> None:
        """See what has become of a job."""
        self._hold_to_scheduler()
        sent = self._sent.pop(str(future.key), None)
        if sent is None:
            return
        job, told = sent.job, self._told.pop(sent.job.key, None)
        if future.status == "finished":
            self._take_report(future, job, told)
        elif future.status == "cancelled":
            if not self._once_more(job, "dropped", 1):
                self._book_failed(job, "its scheduler dropped it.")
        else:
            self._take_error(future, job, told)

    def _take_report(self, future: Future[Any], job: Job, told: AtWork | None) -> None:
        try:
            report = report_from(future.result(timeout=CONNECT_S), job)
        except ValueError as error:
            self._book_failed(job, f"its worker's report cannot be read ({_words(error)}).")
            return
        except OSError as error:
            self._hold_to_scheduler()
            # It died with the report in its hands; what it made may be there.
            if not self._once_more(job, "report lost", 1):
                self._book_failed(job, f"its worker's report was lost ({_words(error)}).")
            return
        self.books.took_s[job.key] = report.seconds or (told.seconds if told else 0.0)
        if report.outcome == "worked on by another":
            self._elsewhere.append((time.monotonic() + ASK_AGAIN_S, job))
        elif report.outcome == "done" and not self.books.folder.up_to_date(job):
            self._unseen.append((time.monotonic() + SEEN_AFTER_S, report))
        else:
            self._believe(report)

    def _believe(self, report: JobReport) -> None:
        kept = report.outcome == "done" and report.attempts == 1
        self.books.book(report, keep=not kept and self.books.folder.report_of(report.job) is None)
        self._release(report.job)

    def _take_error(self, future: Future[Any], job: Job, told: AtWork | None) -> None:
        with reaching(self.client):
            error = future.exception(timeout=CONNECT_S)
        deaths = getattr(error, "allowed_failures", None)
        if deaths is not None:
            # Workers also die of what another job did while this one was waiting there.
            if told is not None or not self._once_more(job, "waited on the dead", 1):
                self._book_killed(job, int(deaths) + 1)
            return
        if isinstance(error, (ImportError, UnfitError)):
            self._workers.ask_again()
            if self._once_more(job, "its worker's failing", WORKERS_FAILINGS):
                return
        self._book_failed(job, f"its worker could not do it ({_words(error)}).")

    def _once_more(self, job: Job, why: str, most: int) -> bool:
        """Queue a job again, unless that was done so often already for the same reason."""
        self._failings[job.key, why] += 1
        if self._failings[job.key, why] > most:
            return False
        self._waiting.append(job)
        return True

    def _book_failed(self, job: Job, sentence: str) -> None:
        self.books.book(JobReport(job=job, outcome="failed", sentence=sentence))
        self._release(job)

    def _book_killed(self, job: Job, deaths: int) -> None:
        sentence = f"{deaths} workers died while they were at it."
        self.books.book(JobReport(job=job, outcome="killed", sentence=sentence, attempts=deaths))
        self._release(job)

    def _look_again(self) -> None:
        """Look for what other runs were at, and for what other machines have made."""
        now = time.monotonic()
        self._waiting.extend(job for again_s, job in self._elsewhere if now >= again_s)
        self._elsewhere = [one for one in self._elsewhere if now < one[0]]
        unseen, self._unseen = self._unseen, []
        for until_s, report in unseen:
            job = report.job
            if self.books.folder.up_to_date(job):
                self._believe(report)
            elif now < until_s:
                self._unseen.append((until_s, report))
            else:
                where = self.books.folder.home(job)
                self._book_failed(job, f"its worker made it, but it is not to be seen in {where}.")

    def _release(self, job: Job) -> None:
        """Let a clip be joined once its last piece has ended."""
        clip = self._unready.get(job.whole)
        if clip is not None and self.books.fate(clip) is not None:
            self._waiting.appendleft(self._unready.pop(job.whole))

    def _hear(self, event: tuple[float, Any]) -> None:
        """Take note of what a worker tells of a job; called in the client's own thread."""
        row = event[1]
        if isinstance(row, Mapping) and f"-{self._run}-" in str(row.get("task")):
            one = AtWork(**row["at_work"])
            self._told[one.key] = one

    def _tell(self) -> None:
        sent = {one.job.key: one.job for one in self._sent.values()}
        at_work = [
            replace(one, left_s=self.books.left_s(sent[one.key], one.seconds))
            for one in list(self._told.values())
            if one.key in sent
        ]
        working = {one.key for one in at_work}
        queued = [job for job in sent.values() if job.key not in working]
        self.books.tell(
            at_work,
            [*queued, *self._waiting, *self._unready.values()],
            len(self._elsewhere),
        )

    def _call_back(self) -> None:
        """Call back what is with the scheduler; children end with their tasks."""
        futures = [one.future for one in self._sent.values()]
        self._sent.clear()
        if not futures or self.client.status != "running":
            return
        with suppress(Exception):  # a scheduler that goes now has nothing more to be told
            self.client.cancel(futures, force=True)
        until = time.monotonic() + TICK_S
        while time.monotonic() < until and not all(f.cancelled() for f in futures):
            time.sleep(0.05)


def _found_there(task: Task) -> Task:
    """A function that looks for another where it runs, and needs nothing of ours to be unpacked.

    A worker that cannot unpack what it is handed dies of it, and with it what else it is at; so a
    lack of trialreel is an error of the job instead. Being no function of a module, it is packed
    with what it does and not by its name.
    """
    module, name = task.__module__, task.__qualname__

    def look_up(*asked: Any) -> Any:
        from importlib import import_module

        return getattr(import_module(module), name)(*asked)

    return look_up


def _words(error: BaseException | None) -> str:
    return " ".join(str(error).split()) or type(error).__name__
