"""What `trialreel series` prints once it has an answer."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from overlay.cli.amounts import about, size
from overlay.cli.console import OUT, as_document, heading, table
from overlay.cli.exit_codes import DONE, FAILED
from overlay.cli.show_table import paragraph

if TYPE_CHECKING:
    from overlay.series.folder import SeriesFolder
    from overlay.series.job import Job
    from overlay.series.outcome import JobReport
    from overlay.series.plan import Plan
    from overlay.series.report import SeriesReport
    from overlay.series.run import SeriesOutcome
    from overlay.series.status import Status

MOST_ROWS = 60
"""So many clips of a plan are listed; the rest is counted, and --json has all."""


def plan(found: Plan, *, as_json: bool) -> int:
    """Print a plan; returns the exit code."""
    from overlay.series.folder import SeriesFolder

    folder = SeriesFolder(path=found.folder)
    there = {job.key for job in found.jobs if folder.up_to_date(job)}
    code = FAILED if found.refused else DONE
    if as_json:
        as_document({**found.as_document(), "up_to_date": sorted(there)})
        return code
    missing = [job for job in found.jobs if job.key not in there]
    _sum_of_plan(found, missing, len(there))
    _clips(found.jobs, there)
    _not_made((one.name, one.sentence) for one in found.refused)
    _older(folder, found)
    heading("goes into", str(found.folder))
    return code


def _older(folder: SeriesFolder, found: Plan) -> None:
    older = folder.older(found.jobs)
    if older:
        heading("older", f"{_count(len(older), 'clip')} there that this plan does not have")


def _sum_of_plan(found: Plan, missing: list[Job], there: int) -> None:
    from overlay.series.plan import elapsed_s

    seconds = elapsed_s([one.seconds for job in missing for one in (job, *job.pieces)], found.cores)
    seconds += elapsed_s([job.guess.seconds for job in found.ties], found.cores)
    trials = len({job.sheet for job in found.jobs} | {one.sheet for one in found.refused})
    clips = _count(len(found.jobs) + len(found.refused), "clip")
    heading(found.name, f"{clips} of {_count(trials, 'trial')}")
    told = [f"{len(missing)} to make"]
    if there:
        told.append(f"{there} up to date")
    if found.refused:
        told.append(f"{len(found.refused)} that cannot be made")
    OUT.print(f"  {', '.join(told)}")
    if missing or found.ties:
        cores = _count(found.cores, "job")
        bytes_ = sum(job.guess.size_bytes for job in missing)
        OUT.print(f"  about {about(seconds)}, {cores} at once; about {size(bytes_)} of clips")
        most = max((job.guess.memory_bytes for job in missing), default=0)
        OUT.print(f"  about {size(most)} of memory a job, {size(found.memory_bytes)} for all")
        rest = (
            f"estimated from {_count(found.measured, 'job')} on this machine"
            if found.measured
            else "roughly estimated: nothing was measured on this machine yet"
        )
        OUT.print(f"  {rest}")
    if found.ties:
        names = ", ".join(job.trial for job in found.ties[:6])
        more = f" and {len(found.ties) - 6} more" if len(found.ties) > 6 else ""
        paragraph(f"the clocks of {names}{more} are tied first", indent="  ")


def _clips(jobs: tuple[Job, ...], there: set[str]) -> None:
    if not jobs:
        return
    rows = table("", "Trial", "Clip", "As", "Frames", "Time", "Size")
    for column in rows.columns[3:]:
        column.justify = "right"
    for job in jobs[:MOST_ROWS]:
        guess = job.guess
        time = "up to date" if job.key in there else f"~ {about(guess.seconds)}"
        rows.add_row(
            job.trial,
            job.clip,
            job.variant.name,
            f"~ {guess.frames:,}",
            time,
            "" if job.key in there else f"~ {size(guess.size_bytes)}",
        )
    OUT.print(rows)
    if len(jobs) > MOST_ROWS:
        OUT.print(f"  and {len(jobs) - MOST_ROWS:,} more, which --json lists")


def _not_made(troubles: Iterable[tuple[str, str]], title: str = "cannot be made") -> None:
    for name, sentence in troubles:
        heading(title, name)
        paragraph(sentence, indent="  ")


def _count(number: int, what: str) -> str:
    return f"{number:,} {what}" + ("" if number == 1 else "s")


def outcome(made: SeriesOutcome, *, as_json: bool) -> int:
    """Print what a run came to; returns the exit code."""
    code = DONE if made.all_well else FAILED
    if as_json:
        as_document(_outcome_document(made))
        return code
    done = sum(report.outcome == "done" for report in made.reports)
    planned = done + len(made.up_to_date) + len(made.failed) + len(made.refused)
    told = [f"{done + len(made.up_to_date)} of {_count(planned, 'clip')} done"]
    if made.up_to_date:
        told.append(f"{len(made.up_to_date)} of them up to date before")
    failed = len(made.failed) + len(made.refused)
    if failed:
        told.append(f"{failed} failed")
    heading(made.plan.name, ", ".join(told))
    _audits(made.reports)
    _not_made(((one.name, one.sentence) for one in made.refused), "failed")
    for report in made.failed:
        _not_made([(report.job.name, report.sentence)], report.outcome)
    for report in made.disagreeing:
        assert report.audit is not None
        _not_made([(report.job.name, report.audit.sentence)], "disagrees")
    _older(made.folder, made.plan)
    heading("clips", str(made.folder.clips))
    if made.report is not None:
        heading("page", str(made.report.page))
        heading("results", str(made.report.table))
    if made.unreported:
        _not_made([("page and table", made.unreported)], "not written")
    return code


def report(made: SeriesReport, *, as_json: bool) -> None:
    """Print what the report of a series is and where it lies."""
    if as_json:
        as_document({"schema": "series-report-made/1", **asdict(made)})
        return
    told = [_count(made.clips, "clip"), _count(made.trials, "trial")]
    without = made.trials - made.with_results
    if without:
        told.append(f"{without} of them without results")
    heading("written", f"{', '.join(told)}, in {made.units} units")
    heading("page", str(made.page))
    heading("results", str(made.table))


def _audits(reports: tuple[JobReport, ...]) -> None:
    verdicts = [report.audit.outcome for report in reports if report.audit is not None]
    if verdicts:
        counts = {word: verdicts.count(word) for word in _MANY if word in verdicts}
        told = [f"{n} {word if n == 1 else _MANY[word]}" for word, n in counts.items()]
        heading("audits", ", ".join(told))


_MANY = {"agrees": "agree", "disagrees": "disagree", "cannot say": "cannot say"}
"""What audits come to, of one and of several."""


def _outcome_document(made: SeriesOutcome) -> dict[str, Any]:
    return {
        "name": made.plan.name,
        "folder": str(made.folder.path),
        "all_well": made.all_well,
        "up_to_date": [job.key for job in made.up_to_date],
        "reports": [report.as_document() for report in made.reports],
        "refused": [{**asdict(one), "key": one.key} for one in made.refused],
        "page": None if made.report is None else str(made.report.page),
        "results": None if made.report is None else str(made.report.table),
        "unreported": made.unreported,
    }


def status(found: Status, *, as_json: bool) -> int:
    """Print how a series stands; returns the exit code."""
    from overlay.cli.live_series import picture

    code = FAILED if (found.failed or found.refused) and not found.runs else DONE
    if as_json:
        as_document(_status_document(found))
        return code
    for run in found.runs:
        OUT.print(picture(run))
    if not found.runs:
        told = f"{len(found.current)} of {_count(len(found.jobs), 'clip')} up to date"
        heading(found.name, f"{told}, nothing at work")
    for job, report in found.failed:
        if job.key not in found.current:
            _not_made([(job.name, report.sentence)], report.outcome)
    _not_made(found.refused)
    return code


def _status_document(found: Status) -> dict[str, Any]:
    return {
        "name": found.name,
        "folder": str(found.folder.path),
        "runs": [run.as_document() for run in found.runs],
        "jobs": [
            {
                "key": job.key,
                "name": job.name,
                "up_to_date": job.key in found.current,
                "outcome": None if report is None else report.outcome,
                "sentence": "" if report is None else report.sentence,
            }
            for job, report in found.jobs
        ],
        "refused": [{"name": name, "sentence": sentence} for name, sentence in found.refused],
    }
