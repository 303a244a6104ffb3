"""How every clip of a series stands, read from its folder: whoever made it, and wherever."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from overlay.series.folder import SeriesFolder
from overlay.series.job import Job
from overlay.series.kept_plan import kept_plan
from overlay.series.outcome import JobReport
from overlay.series.plan import Refused
from sync.errors import TrialReelError

Stand = Literal["made", "up to date", "failed", "not made", "not audited", "gone"]
"""`made` by the last run and `up to date` before it; `gone` where a clip was made and is no longer
there as it was."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A clip of the plan, as it stands; its length is NaN where there is none to be had."""

    job: Job
    stand: Stand
    report: JobReport | None = None
    length_s: float = math.nan

    @property
    def there(self) -> bool:
        """Whether the clip can be looked at and is what the plan asks for."""
        return self.stand in ("made", "up to date")

    @property
    def disagrees(self) -> bool:
        """Whether it is there and shows what the logs do not support."""
        return self.there and self.report is not None and self.report.disagrees

    @property
    def size_bytes(self) -> int:
        """Of the clip itself."""
        outputs = {} if self.report is None else self.report.outputs
        film = outputs.get(self.job.output_names[0])
        return 0 if film is None else film.size_bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesStanding:
    """A series as its folder tells it.

    Parameters
    ----------
    ended_utc
        When the last of its jobs ended; empty where none has.
    at_work
        How many runs are at work on it now.
    older
        Clips that no job of the plan makes any more.
    """

    name: str
    folder: SeriesFolder
    clips: tuple[Standing, ...]
    refused: tuple[Refused, ...]
    ended_utc: str
    at_work: int
    older: tuple[Path, ...]

    @property
    def sheets(self) -> tuple[Path, ...]:
        """All trial sheets, those that cannot be used with them, each once."""
        named = (*(one.job.sheet for one in self.clips), *(one.sheet for one in self.refused))
        return tuple(Path(sheet) for sheet in dict.fromkeys(named))

    @property
    def units(self) -> str | None:
        """The first units that the series is made in; None where its sheets say."""
        return next((one.job.variant.units for one in self.clips), None)


def standing_of(folder: SeriesFolder) -> SeriesStanding:
    """How a series stands.

    Raises
    ------
    SheetError
        Where it has no plan that can be read.
    """
    plan = kept_plan(folder)
    began_s = folder.plan.stat().st_mtime
    jobs = [job for job in plan.jobs if job.kind == "clip"]
    clips = tuple(_standing(job, folder, began_s) for job in jobs)
    ended = (one.report.ended_utc for one in clips if one.report is not None)
    return SeriesStanding(
        name=plan.name,
        folder=folder,
        clips=clips,
        refused=plan.refused,
        ended_utc=max(ended, default=""),
        at_work=sum(1 for _ in folder.states()),
        older=tuple(_films(folder.older(jobs))),
    )


def _standing(job: Job, folder: SeriesFolder, began_s: float) -> Standing:
    report = folder.report_of(job) or _of_pieces(job, folder)
    if report is None:
        return Standing(job=job, stand="not made")
    if report.outcome != "done":
        return Standing(job=job, stand="failed", report=report)
    if not folder.up_to_date(job):
        unaudited = job.settings.audit and report.audit is None and folder.rendered(job)
        return Standing(job=job, stand="not audited" if unaudited else "gone", report=report)
    # The plan is written as a run begins to make clips; what is older was there before.
    made = folder.report(job.key).stat().st_mtime >= began_s
    return Standing(
        job=job,
        stand="made" if made else "up to date",
        report=report,
        length_s=_length_s(folder.clips / job.output_names[0]),
    )


def _of_pieces(job: Job, folder: SeriesFolder) -> JobReport | None:
    """Of a long clip that was not joined, the report of the first piece that failed."""
    reports = (folder.report_of(piece) for piece in job.pieces)
    return next((one for one in reports if one is not None and one.outcome != "done"), None)


def _length_s(film: Path) -> float:
    from sync.media import probe

    try:
        duration_s = probe(film).duration_s
    except (TrialReelError, OSError):
        return math.nan
    return math.nan if duration_s is None else duration_s


def _films(ledgers: tuple[Path, ...]) -> Iterator[Path]:
    """The clips of ledgers, as far as they are still there."""
    from overlay.ledger import LEDGER_END

    for ledger in ledgers:
        stem = ledger.name.removesuffix(LEDGER_END)
        for ending in (".mp4", ".mov"):
            film = ledger.with_name(f"{stem}{ending}")
            if film.is_file():
                yield film
