"""How a series stands, asked from outside: by its plan, reports and running states."""

from __future__ import annotations

from dataclasses import dataclass

from overlay.errors import SheetError
from overlay.series.folder import SeriesFolder
from overlay.series.job import Job
from overlay.series.kept_plan import KeptPlan, kept_plan
from overlay.series.outcome import JobReport
from overlay.series.plan import Refused
from overlay.series.state import State


@dataclass(frozen=True, slots=True, kw_only=True)
class Status:
    """A series as it stands.

    Parameters
    ----------
    runs
        The runs that are at work on it.
    jobs
        Those of the plan, each with its report, if there is one.
    current
        The jobs whose outputs are there and up to date with the plan.
    refused
        Names and sentences of what could not be planned.
    """

    name: str
    folder: SeriesFolder
    runs: tuple[State, ...]
    jobs: tuple[tuple[Job, JobReport | None], ...]
    current: frozenset[str]
    refused: tuple[tuple[str, str], ...]

    @property
    def failed(self) -> tuple[tuple[Job, JobReport], ...]:
        """Jobs that were tried and are not done."""
        return tuple(
            (job, report)
            for job, report in self.jobs
            if report is not None and report.outcome != "done"
        )


def status_of(folder: SeriesFolder) -> Status:
    """How a series stands.

    Raises
    ------
    SheetError
        Where it was never begun, or its plan cannot be read.
    """
    runs = tuple(folder.states())
    try:
        plan = kept_plan(folder)
    except SheetError:
        if not runs:
            raise
        plan = KeptPlan(name=runs[0].name, jobs=(), refused=())
    return Status(
        name=plan.name,
        folder=folder,
        runs=runs,
        jobs=tuple((job, folder.report_of(job)) for job in plan.jobs),
        current=frozenset(job.key for job in plan.jobs if folder.up_to_date(job)),
        refused=tuple((_name(one), one.sentence) for one in plan.refused),
    )


def _name(one: Refused) -> str:
    return f"{one.trial}: {one.clip}" if one.clip else one.trial
