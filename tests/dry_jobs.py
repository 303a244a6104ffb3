"""Dry runs of a series on a cluster: jobs without films, and what a worker may do with one.

They stand in a module of their own because a worker must import what it is handed: functions go
there by their names.
"""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any

from overlay.series.books import Books
from overlay.series.folder import SeriesFolder
from overlay.series.job import Job, job_from
from overlay.series.on_worker import _Teller
from overlay.series.outcome import JobReport
from overlay.workflow.files import write_json


def dry_jobs(count: int) -> list[Job]:
    return [
        Job(key=sha256(str(n).encode()).hexdigest(), kind="tie", sheet="/x", trial="d", title="D")
        for n in range(count)
    ]


def dry_books(place: Path) -> Books:
    folder = SeriesFolder(path=place)
    folder.prepare()
    return Books(name="dry", phase="clips", folder=folder, cores=2, watch=lambda _state: None)


def instantly(
    document: Mapping[str, Any], folder: str, _memory: int | None, _version: str
) -> Mapping[str, Any]:
    """A dry run: a job that is over as soon as it begins, with its report where it belongs."""
    report = JobReport(job=job_from(document), outcome="done").as_document()
    write_json(SeriesFolder(path=Path(folder)).report(str(document["key"])), report)
    return report


def slowly(
    document: Mapping[str, Any], folder: str, memory: int | None, wanted: str
) -> Mapping[str, Any]:
    time.sleep(0.3)
    return instantly(document, folder, memory, wanted)


def fails(*_asked: object) -> Mapping[str, Any]:
    """A worker without what the job needs."""
    raise ModuleNotFoundError("No module named 'overlay'")


def boasts(document: Mapping[str, Any], *_asked: object) -> Mapping[str, Any]:
    """A worker that says it is done, and made nothing here."""
    return JobReport(job=job_from(document), outcome="done").as_document()


def babbles(*_asked: object) -> Mapping[str, Any]:
    """A worker of another version, whose report is another document."""
    return {"schema": "series-report/9"}


def kills(
    document: Mapping[str, Any], folder: str, memory: int | None, wanted: str
) -> Mapping[str, Any]:
    """The first job ends its worker."""
    job = job_from(document)
    if job.key == dry_jobs(1)[0].key:
        _Teller(job)
        time.sleep(1.0)
        os.kill(os.getpid(), signal.SIGKILL)
    return slowly(document, folder, memory, wanted)


def waits(*_asked: object) -> Mapping[str, Any]:
    time.sleep(60)
    return {}
