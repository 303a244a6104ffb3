"""A whole run of a series on this machine: plan, ties, clips, and what is kept of it."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from overlay.errors import OutputError
from overlay.series.books import Books, Watch
from overlay.series.document import Series
from overlay.series.folder import SeriesFolder
from overlay.series.job import Job
from overlay.series.local import Budget, LocalRun
from overlay.series.outcome import JobReport
from overlay.series.plan import Plan, Refused, plan_of
from overlay.series.speeds import Took, keep_speeds
from overlay.series.state import Ended, State
from overlay.workflow.files import write_json
from sync.errors import TrialReelError

if TYPE_CHECKING:
    from overlay.series.report import SeriesReport


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesOutcome:
    """What a run came to.

    Parameters
    ----------
    reports
        Of the jobs that were done, or tried, in this run.
    up_to_date
        Jobs whose outputs were there already, or that another run made in the meantime.
    report, unreported
        The page and the table that tell of it; or why they could not be written, in one sentence.
    """

    plan: Plan
    folder: SeriesFolder
    reports: tuple[JobReport, ...]
    up_to_date: tuple[Job, ...]
    refused: tuple[Refused, ...]
    report: SeriesReport | None = None
    unreported: str = ""

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
        return not (self.failed or self.refused or self.disagreeing or self.unreported)


def run_series(series: Series, watch: Watch, cluster: str | None = None) -> SeriesOutcome:
    """Make what is missing or out of date of a series.

    Parameters
    ----------
    cluster
        The address of a Dask scheduler whose workers do it, or `here` for one that is started for
        this run; None to do it without.

    Raises
    ------
    SheetError
        Where there is nothing to plan.
    OutputError
        Where the folder of the series cannot be written to.
    ClusterError
        Where the cluster cannot be reached, or is lost.
    KeyboardInterrupt
        Where it was interrupted; everything that is whole is kept.
    """
    plan = plan_of(series)
    folder = SeriesFolder(path=plan.folder)
    _prepare(folder)
    keeper, stated = _Keeper(folder, watch), series.document.limits.memory
    with _runner(cluster, plan, stated) as runner, closing(keeper):
        refused = plan.refused
        if plan.ties:
            ties = _phase("ties", plan, folder, plan.ties, keeper, runner)
            plan = plan_of(series)
            refused, plan = _untied(plan, ties.reports)
        write_json(folder.plan, plan.as_document())
        made = _phase("clips", replace(plan, refused=refused), folder, plan.jobs, keeper, runner)
        folder.sweep_pieces(plan.jobs)
    outcome = SeriesOutcome(
        plan=plan,
        folder=folder,
        reports=tuple(one for one in made.reports if one.job.kind != "piece"),
        up_to_date=tuple(made.up_to_date),
        refused=refused,
    )
    return reported(outcome)


def reported(outcome: SeriesOutcome) -> SeriesOutcome:
    """Write page and table of a series, whatever failed; that they cannot be is an outcome too."""
    from overlay.series.report import write_report

    try:
        return replace(outcome, report=write_report(outcome.folder))
    except Exception as error:  # noqa: BLE001 - clips that are made are not lost for a page
        told = " ".join(str(error).split())
        known = isinstance(error, TrialReelError)
        return replace(outcome, unreported=told if known else f"{type(error).__name__}: {told}")


Runner = Callable[[Books, Sequence[Job]], None]


@contextmanager
def _runner(cluster: str | None, plan: Plan, stated_bytes: int | None) -> Iterator[Runner]:
    """Who does the jobs.

    On a cluster, memory is kept to where the series states it: `here` all workers share it, else
    each worker may have so much, for how many of them are on one machine cannot be known.
    """
    if cluster is None:
        budget = Budget(cores=plan.cores, memory_bytes=plan.memory_bytes)
        yield lambda books, jobs: LocalRun(books=books, budget=budget).run(jobs)
        return
    from overlay.series.cluster import HERE, ClusterRun, cluster_at

    share = stated_bytes
    if cluster == HERE and stated_bytes is not None:
        share = stated_bytes // plan.cores
    with cluster_at(cluster, plan.cores) as client:
        yield lambda books, jobs: ClusterRun(books=books, client=client, memory_bytes=share).run(
            jobs
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
    phase: str,
    plan: Plan,
    folder: SeriesFolder,
    jobs: tuple[Job, ...],
    watch: Watch,
    runner: Runner,
) -> Books:
    books = Books(
        name=plan.name,
        phase=phase,
        folder=folder,
        cores=plan.cores,
        watch=watch,
        troubles=[
            Ended(name=one.name, outcome="failed", sentence=one.sentence) for one in plan.refused
        ]
        if phase == "clips"
        else [],
    )
    try:
        runner(books, jobs)
    finally:
        keep_speeds([took for report in books.reports if (took := _took(report, books))])
    return books


def _took(report: JobReport, books: Books) -> Took | None:
    """What a job took, where it was rendered from its first frame to its last."""
    recipe = report.job.recipe
    if report.outcome != "done" or not report.render_s or recipe is None or report.job.cuts:
        return None
    return Took(
        recipe=recipe,
        frames=report.frames,
        pixels=report.job.pixels,
        start_s=max(0.0, books.took_s[report.key] - report.render_s - report.audit_s),
        render_s=report.render_s,
        audit_s=report.audit_s,
        size_bytes=max((one.size_bytes for one in report.outputs.values()), default=0),
        peak_bytes=report.peak_bytes,
    )


def _untied(plan: Plan, reports: list[JobReport]) -> tuple[tuple[Refused, ...], Plan]:
    """The plan without the clips of trials that could not be tied, and all that is refused."""
    why = {report.job.sheet: report.sentence for report in reports if report.sentence}
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
