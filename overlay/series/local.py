"""The jobs of a series on this machine: one process each, the longest first, within the limits.

The parent sleeps until a child tells something, ends, or half a second has passed. It renders
nothing itself, and takes well under a hundredth of a core (tests/bench/series_speed.py).

What becomes of a child:

- it writes a report, and that is its outcome, good or bad: bad input is not tried twice;
- it is ended by a signal that nobody here sent: it is tried once more;
- all children together have more memory than they may: the one that is furthest beyond its estimate
  is ended, and tried once more with nobody beside it; a job that takes too much alone has failed;
- it takes longer than it may: it is ended, and has failed;
- somebody else holds its lock: it is asked for again when that is free.
"""

from __future__ import annotations

import selectors
import signal
import time
from collections import deque
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace

from overlay.series.books import Books
from overlay.series.child import Child
from overlay.series.endings import interruptible, outcome_of, why
from overlay.series.folder import SeriesFolder
from overlay.series.job import Job
from overlay.series.locks import LockedError, held, locked
from overlay.series.outcome import JobReport
from overlay.series.work import BUSY, WRITTEN

TICK_S = 0.5
ASK_AGAIN_S = 1.0
PATIENCE_S = 10.0
"""How long children have to clear up when the run is interrupted."""

MOST_ATTEMPTS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """What all children may take together."""

    cores: int
    memory_bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Try:
    """A job that waits to be begun."""

    job: Job
    attempt: int = 1
    alone: bool = False


@dataclass(slots=True, kw_only=True)
class LocalRun:
    """Runs jobs, and keeps the books of them."""

    books: Books
    budget: Budget
    _waiting: deque[_Try] = field(default_factory=deque)
    _elsewhere: list[_Try] = field(default_factory=list)
    _children: dict[int, Child] = field(default_factory=dict)
    _asked_s: float = 0.0

    @property
    def folder(self) -> SeriesFolder:
        """Where everything goes."""
        return self.books.folder

    def run(self, jobs: Sequence[Job]) -> None:
        """Do all jobs that are not up to date; returns when nothing is left to do.

        Raises
        ------
        KeyboardInterrupt
            Where it was interrupted; children are gone then, and what they left is swept.
        """
        self._waiting.extend(_Try(job=job) for job in self.books.open(jobs))
        with selectors.DefaultSelector() as selector, interruptible():
            try:
                self._loop(selector)
            finally:
                self._stop_all(selector)
                self._tell()

    def _loop(self, selector: selectors.BaseSelector) -> None:
        while self._waiting or self._children or self._elsewhere:
            self._ask_again()
            self._begin(selector)
            for key, _ in selector.select(TICK_S):
                self._hear(key, selector)
            self._hold_to_limits()
            if self.books.due:
                self._tell()

    def _hear(self, key: selectors.SelectorKey, selector: selectors.BaseSelector) -> None:
        """Answer to a child that ended, or told something."""
        child: Child = key.data
        if self._children.get(child.pidfd) is not child:
            return  # both came at once, and its end was heard first
        if key.fileobj == child.pidfd:
            self._end(child, selector)
        elif not child.listen():
            selector.unregister(child.output)

    def _begin(self, selector: selectors.BaseSelector) -> None:
        """Start what fits, the longest first."""
        while len(self._children) < self.budget.cores:
            chosen = self._next()
            if chosen is None:
                return
            self._waiting.remove(chosen)
            job = chosen.job
            if self.folder.up_to_date(job):
                self.books.found(job)
                continue
            missing = self.books.fate(job)
            if missing:
                self.books.hopeless(job, missing)
                continue
            if held(self.folder.lock(job.key)) is not None:
                self._elsewhere.append(chosen)
                continue
            try:
                child = Child(job, self.folder, attempt=chosen.attempt, alone=chosen.alone)
            except OSError as error:
                sentence = f"its process cannot be started ({error.strerror or error})."
                self.books.book(JobReport(job=job, outcome="failed", sentence=sentence))
                continue
            self._children[child.pidfd] = child
            selector.register(child.pidfd, selectors.EVENT_READ, child)
            selector.register(child.output, selectors.EVENT_READ, child)

    def _next(self) -> _Try | None:
        if any(child.alone for child in self._children.values()):
            return None
        free = self.budget.memory_bytes - sum(
            max(child.job.guess.memory_bytes, child.memory_bytes)
            for child in self._children.values()
        )
        for one in self._waiting:
            if self.books.fate(one.job) is None:
                continue
            if not self._children or (not one.alone and one.job.guess.memory_bytes <= free):
                return one
        return None

    def _ask_again(self) -> None:
        """Take up what another run was at work on, once that has let go of it."""
        now = time.monotonic()
        if not self._elsewhere or now - self._asked_s < ASK_AGAIN_S:
            return
        self._asked_s = now
        for one in list(self._elsewhere):
            if held(self.folder.lock(one.job.key)) is None:
                self._elsewhere.remove(one)
                self._waiting.append(one)

    def _hold_to_limits(self) -> None:
        for child in self._children.values():
            child.measure()
            if child.seconds > child.job.timeout_s:
                child.kill("timed out")
        at_work = [child for child in self._children.values() if not child.killed_for]
        if sum(child.memory_bytes for child in at_work) > self.budget.memory_bytes:
            beyond = max(at_work, key=lambda c: c.memory_bytes - c.job.guess.memory_bytes)
            beyond.kill("used too much memory")

    def _end(self, child: Child, selector: selectors.BaseSelector) -> None:
        """Book what has become of a child."""
        selector.unregister(child.pidfd)
        with suppress(KeyError, ValueError):
            selector.unregister(child.output)
        del self._children[child.pidfd]
        code, words = child.process.wait(), child.last_words()
        child.close()
        if child.killed_for == "stopped":
            self._sweep(child.job)
        elif code == BUSY and not child.killed_for:
            self._elsewhere.append(_Try(job=child.job, attempt=child.attempt, alone=child.alone))
        else:
            self._judge(child, code, words)

    def _judge(self, child: Child, code: int, words: str) -> None:
        """Book a child's report, or what it died of; or try its job once more."""
        job = child.job
        self.books.took_s[job.key] = child.seconds
        # One that was killed in its last instant may have come to its end before.
        told = code == WRITTEN or self.folder.up_to_date(job)
        report = self.folder.report_of(job) if told else None
        if report is not None:
            self.books.book(replace(report, attempts=child.attempt), keep=child.attempt > 1)
            return
        if told and self.folder.up_to_date(job):  # a piece whose clip another run has made
            self.books.found(job)
            return
        self._sweep(job)
        outcome = outcome_of(child, code)
        if outcome == "used too much memory" and not child.alone:
            self._waiting.appendleft(_Try(job=job, attempt=child.attempt + 1, alone=True))
            return
        if outcome == "killed" and child.attempt < MOST_ATTEMPTS:
            self._waiting.appendleft(_Try(job=job, attempt=child.attempt + 1, alone=child.alone))
            return
        died = JobReport(
            job=job,
            outcome=outcome,
            sentence=why(child, code, words, self.budget.memory_bytes),
            seconds=round(child.seconds, 3),
            peak_bytes=child.peak_bytes,
            attempts=child.attempt,
        )
        self.books.book(died)

    def _sweep(self, job: Job) -> None:
        with suppress(LockedError, OSError), locked(self.folder.lock(job.key)):
            self.folder.sweep(job)

    def _stop_all(self, selector: selectors.BaseSelector) -> None:
        """End all children, in peace if they can be had to, and sweep up after them."""
        for child in self._children.values():
            child.kill("stopped", signal.SIGTERM)
        until = time.monotonic() + PATIENCE_S
        while self._children:
            if time.monotonic() > until:
                for child in self._children.values():
                    child.kill("stopped")
            for key, _ in selector.select(TICK_S):
                self._hear(key, selector)

    def _tell(self) -> None:
        at_work = [
            child.at_work(self.books.left_s(child.job, child.seconds))
            for child in self._children.values()
        ]
        waiting = [one.job for one in self._waiting]
        self.books.tell(at_work, waiting, len(self._elsewhere))
