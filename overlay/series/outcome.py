"""What has become of a job: one report each, as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Literal

from overlay.series.job import Job
from overlay.series.kept_value import kept_value

SCHEMA = "series-report/1"

Outcome = Literal[
    "done", "failed", "killed", "timed out", "used too much memory", "worked on by another"
]
"""`worked on by another` is told to the parent alone, which asks again; it is never kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """A file that a job made."""

    sha256: str
    size_bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditTold:
    """What the audit of a clip came to, in short; its page and document lie beside the clip, and
    have no names where nothing could be audited."""

    outcome: Literal["agrees", "disagrees", "cannot say"]
    sentence: str
    page: str = ""
    document: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobReport:
    """How a job ended.

    Parameters
    ----------
    sentence
        Why it is not done, in one sentence; empty where it is.
    seconds, render_s, audit_s
        How long it took on the clock, in all, for the clip and for its audit.
    peak_bytes
        The most memory that its process had.
    outputs
        By their names in the folder of clips.
    attempts
        How often it was tried.
    ended_utc
        Empty until it is booked.
    """

    job: Job
    outcome: Outcome
    sentence: str = ""
    seconds: float = 0.0
    render_s: float = 0.0
    audit_s: float = 0.0
    frames: int = 0
    peak_bytes: int = 0
    outputs: Mapping[str, Output] = field(default_factory=dict)
    audit: AuditTold | None = None
    warnings: tuple[str, ...] = ()
    attempts: int = 1
    ended_utc: str = ""

    @property
    def key(self) -> str:
        """The key of its job, by which it is kept."""
        return self.job.key

    @property
    def disagrees(self) -> bool:
        """Whether its clip shows something that the logs do not support."""
        return self.audit is not None and self.audit.outcome == "disagrees"

    def as_document(self) -> dict[str, Any]:
        """The report as JSON has it."""
        return {"schema": SCHEMA, "key": self.key, **asdict(self), "job": self.job.as_document()}


def report_from(document: Any, of: Job | None = None) -> JobReport:
    """A report from its document.

    Parameters
    ----------
    of
        The job whose report it has to be, where that is known: so many reports share what they
        have of their jobs with the plan.

    Raises
    ------
    ValueError
        Where the document is none, or another job's.
    """
    report = kept_value(JobReport, document, SCHEMA)
    if of is None:
        return report
    if report.key != of.key:
        message = f"this is the report of {report.key!r}, not of {of.key!r}"
        raise ValueError(message)
    return replace(report, job=of)
