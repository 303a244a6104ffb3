"""The books of a run: what was begun, what became of each job, and how far all of it is.

Whoever runs jobs, on this machine or on a cluster, keeps them here.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

from overlay.errors import OutputError
from overlay.series.folder import SeriesFolder
from overlay.series.job import Job
from overlay.series.machine import host_here, started_ticks
from overlay.series.outcome import JobReport
from overlay.series.plan import elapsed_s
from overlay.series.state import AtWork, Ended, State
from overlay.workflow.files import write_json

Watch = Callable[[State], None]

TELL_EVERY_S, TELL_SHARE = 1.0, 0.01
"""How often is told how far all is; seldom enough that telling takes this share of the time."""


@dataclass(slots=True, kw_only=True)
class Books:
    """What has become of the jobs of a run.

    Parameters
    ----------
    cores
        How many jobs are done at once, for estimates.
    troubles
        What is told of from the first on: jobs that could not even be planned.
    reports
        Of the jobs that ended in this run, pieces too.
    up_to_date
        Clips and ties that were there already, or that another run made.
    took_s
        By keys, how long jobs took on the clock.
    """

    name: str
    phase: str
    folder: SeriesFolder
    cores: int
    watch: Watch
    troubles: list[Ended] = field(default_factory=list)
    reports: list[JobReport] = field(default_factory=list)
    up_to_date: list[Job] = field(default_factory=list)
    took_s: dict[str, float] = field(default_factory=dict)
    _fates: dict[str, str] = field(default_factory=dict)
    _done: int = 0
    _planned: int = 0
    _began_s: float = 0.0
    _told_s: float = 0.0
    _telling_s: float = 0.0
    _guessed_s: float = 0.0
    _booked_s: float = 0.0

    def open(self, jobs: Sequence[Job]) -> list[Job]:
        """Begin a run; returns the jobs to do, the longest first, with the pieces they need."""
        self._began_s, self._planned = time.monotonic(), len(jobs) + len(self.troubles)
        todo = list(jobs)
        for job in jobs:
            if self.folder.rendered(job):
                self._fates |= {piece.key: "" for piece in job.pieces}
            else:
                todo += job.pieces
        return sorted(todo, key=lambda job: (-job.seconds, job.name))

    def found(self, job: Job) -> None:
        """Take note of a job whose outputs are there already."""
        self._fates[job.key] = ""
        if job.kind != "piece":
            self.up_to_date.append(job)

    def fate(self, job: Job) -> str | None:
        """What has become of the pieces that a job needs.

        Returns
        -------
        str or None
            Empty where all are there, None where some are still to come, else why one is missing.
        """
        fates = [self._fates.get(piece.key) for piece in job.pieces]
        lost = next(((piece, why) for piece, why in zip(job.pieces, fates, strict=True) if why),
                    None)  # fmt: skip
        if lost is not None:
            cut, why = lost[0].piece, lost[1]
            assert cut is not None
            return f"its frames {cut[0]} to {cut[1]} could not be made: {why}"
        return None if None in fates else ""

    def hopeless(self, job: Job, why: str) -> None:
        """Book a job that cannot be done, for want of a piece."""
        self.book(JobReport(job=job, outcome="failed", sentence=why))

    def book(self, report: JobReport, *, keep: bool = True) -> None:
        """Take an outcome into the books, and keep it where its process could not."""
        job = report.job
        if not report.ended_utc:
            report = replace(report, ended_utc=datetime.now(UTC).isoformat(timespec="seconds"))
        if keep:
            with suppress(OutputError):  # the disk is full: the outcome is told all the same
                write_json(self.folder.report(job.key), report.as_document())
        self.reports.append(report)
        self._guessed_s += job.seconds
        self._booked_s += self.took_s.get(job.key, 0.0)
        self._fates[job.key] = "" if report.outcome == "done" else report.sentence or "it failed."
        if job.kind == "piece":
            return
        if report.outcome != "done":
            self.troubles.append(
                Ended(name=job.name, outcome=report.outcome, sentence=report.sentence)
            )
            return
        self._done += 1
        if report.audit is not None and report.disagrees:
            self.troubles.append(
                Ended(name=job.name, outcome="disagrees", sentence=report.audit.sentence)
            )

    def pace(self) -> float:
        """How many times as long jobs take as they were estimated at, by those that ended."""
        return self._booked_s / self._guessed_s if self._booked_s and self._guessed_s else 1.0

    @property
    def due(self) -> bool:
        """Whether it is time to tell again how far all is."""
        every_s = max(TELL_EVERY_S, self._telling_s / TELL_SHARE)
        return time.monotonic() - self._told_s >= every_s

    def tell(self, at_work: Sequence[AtWork], waiting: Iterable[Job], elsewhere: int) -> None:
        """Tell whoever watches how far the run is."""
        began_s = time.monotonic()
        pace, ahead = self.pace(), list(waiting)
        left = [*(one.left_s for one in at_work), *(job.seconds * pace for job in ahead)]
        state = State(
            name=self.name,
            phase=self.phase,
            host=host_here(),
            pid=os.getpid(),
            started_ticks=started_ticks(os.getpid()) or 0,
            seconds=round(time.monotonic() - self._began_s, 1),
            updated_utc=datetime.now(UTC).isoformat(timespec="seconds"),
            planned=self._planned,
            up_to_date=len(self.up_to_date),
            done=self._done,
            waiting=sum(job.kind != "piece" for job in ahead),
            elsewhere=elsewhere,
            left_s=round(elapsed_s(left, self.cores), 1),
            at_work=tuple(at_work),
            troubles=tuple(self.troubles),
        )
        self.watch(state)
        self._told_s = time.monotonic()
        self._telling_s = self._told_s - began_s

    def left_s(self, job: Job, seconds: float) -> float:
        """How long a job is still estimated to take that was begun so long ago."""
        return max(1.0, job.seconds * self.pace() - seconds)
