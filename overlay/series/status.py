"""How a series stands, asked from outside: by its plan, reports and running states."""

from __future__ import annotations

import json
from dataclasses import dataclass

from overlay.errors import SheetError
from overlay.series.folder import SeriesFolder
from overlay.series.job import Job, job_from
from overlay.series.outcome import JobReport
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
        Where it was never begun.
    """
    runs = tuple(folder.states())
    try:
        plan = json.loads(folder.plan.read_bytes())
        jobs = tuple(job_from(row) for row in plan["jobs"])
        refused = tuple((_name(row), str(row["sentence"])) for row in plan["refused"])
        name = str(plan["name"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        if not runs:
            raise SheetError(
                "no series was begun here",
                path=folder.path,
                advice="`trialreel series run` begins one",
            ) from error
        jobs, refused, name = (), (), runs[0].name
    return Status(
        name=name,
        folder=folder,
        runs=runs,
        jobs=tuple((job, folder.report_of(job)) for job in jobs),
        current=frozenset(job.key for job in jobs if folder.up_to_date(job)),
        refused=refused,
    )


def _name(row: dict[str, str]) -> str:
    return f"{row['trial']}: {row['clip']}" if row["clip"] else row["trial"]
