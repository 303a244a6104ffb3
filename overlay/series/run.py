"""A whole run of a series on this machine: plan, ties, clips, and what is kept of it."""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass, replace

from overlay.errors import OutputError
from overlay.series.document import Series
from overlay.series.folder import SeriesFolder
from overlay.series.job import Job
from overlay.series.local import Budget, LocalRun, Watch
from overlay.series.outcome import JobReport
from overlay.series.plan import Plan, Refused, plan_of
from overlay.series.speeds import Took, keep_speeds
from overlay.series.state import Ended, State
from overlay.workflow.files import write_json


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesOutcome:
    """What a run came to.

    Parameters
    ----------
    reports
        Of the jobs that were done, or tried, in this run.
    up_to_date
        Jobs whose outputs were there already, or that another run made in the meantime.
    """

    plan: Plan
    folder: SeriesFolder
    reports: tuple[JobReport, ...]
    up_to_date: tuple[Job, ...]
    refused: tuple[Refused, ...]

    @property
    def failed(self) -> tuple[JobReport, ...]:
        """The jobs that are not done."""
        return tuple(report for report in self.reports if report.outcome != "done")

    @property
    def disagreeing(self) -> tuple[JobReport, ...]:
        """The jobs whose clips show what the logs do not support, old ones included."""
        old = (self.folder.report_of(job) for job in self.up_to_date)
        return tuple(
            report for report in (*self.reports, *old) if report is not None and report.disagrees
        )

    @property
    def all_well(self) -> bool:
        """Whether everything that was asked for is done and agrees."""
        return not (self.failed or self.refused or self.disagreeing)


def run_series(series: Series, watch: Watch) -> SeriesOutcome:
    """Make what is missing or out of date of a series.

    Raises
    ------
    SheetError
        Where there is nothing to plan.
    OutputError
        Where the folder of the series cannot be written to.
    KeyboardInterrupt
        Where it was interrupted; everything that is whole is kept.
    """
    plan = plan_of(series)
    folder = SeriesFolder(path=plan.folder)
    _prepare(folder)
    keeper = _Keeper(folder, watch)
    try:
        refused = plan.refused
        if plan.ties:
            ties = _phase("ties", plan, folder, plan.ties, keeper)
            plan = plan_of(series)
            refused, plan = _untied(plan, ties.reports)
        write_json(folder.plan, plan.as_document())
        made = _phase("clips", replace(plan, refused=refused), folder, plan.jobs, keeper)
    finally:
        keeper.close()
    return SeriesOutcome(
        plan=plan,
        folder=folder,
        reports=tuple(made.reports),
        up_to_date=tuple(made.up_to_date),
        refused=refused,
    )


def _prepare(folder: SeriesFolder) -> None:
    try:
        folder.prepare()
        folder.sweep_all()
    except OSError as error:
        raise OutputError(
            f"this folder cannot be written to ({error.strerror or error})",
            path=folder.path,
            advice="free some space, or put the series where you may write",
        ) from error


def _phase(
    phase: str, plan: Plan, folder: SeriesFolder, jobs: tuple[Job, ...], watch: Watch
) -> LocalRun:
    run = LocalRun(
        name=plan.name,
        phase=phase,
        folder=folder,
        budget=Budget(cores=plan.cores, memory_bytes=plan.memory_bytes),
        watch=watch,
        troubles=[
            Ended(name=one.name, outcome="failed", sentence=one.sentence) for one in plan.refused
        ]
        if phase == "clips"
        else [],
    )
    try:
        run.run(jobs)
    finally:
        keep_speeds([took for report in run.reports if (took := _took(report, run))])
    return run


def _took(report: JobReport, run: LocalRun) -> Took | None:
    """What a job took, where it was rendered from its first frame to its last."""
    recipe = report.job.get("recipe")
    if report.outcome != "done" or not report.render_s or recipe is None:
        return None
    return Took(
        recipe=recipe,
        frames=report.frames,
        pixels=int(report.job["pixels"]),
        start_s=max(0.0, run.took_s[report.key] - report.render_s - report.audit_s),
        render_s=report.render_s,
        audit_s=report.audit_s,
        size_bytes=max((one.size_bytes for one in report.outputs.values()), default=0),
        peak_bytes=report.peak_bytes,
    )


def _untied(plan: Plan, reports: list[JobReport]) -> tuple[tuple[Refused, ...], Plan]:
    """The plan without the clips of trials that could not be tied, and all that is refused."""
    why = {str(report.job["sheet"]): report.sentence for report in reports if report.sentence}
    sheets = {job.sheet for job in plan.ties}
    refused = tuple(
        Refused(
            sheet=job.sheet,
            trial=job.trial,
            clip=job.clip,
            variant=job.variant,
            sentence=why.get(job.sheet, "the clocks of its trial could not be tied."),
        )
        for job in plan.jobs
        if job.sheet in sheets
    )
    kept = tuple(job for job in plan.jobs if job.sheet not in sheets)
    everything = (*plan.refused, *refused)
    return everything, replace(plan, jobs=kept, ties=(), refused=everything)


class _Keeper:
    """Keeps the state of a run in its file, and tells whoever watches."""

    def __init__(self, folder: SeriesFolder, watch: Watch) -> None:
        self._place, self._watch = folder.state(os.getpid()), watch

    def __call__(self, state: State) -> None:
        with suppress(OutputError):  # a full disk takes the view of a second terminal, no more
            write_json(self._place, state.as_document())
        self._watch(state)

    def close(self) -> None:
        self._place.unlink(missing_ok=True)
