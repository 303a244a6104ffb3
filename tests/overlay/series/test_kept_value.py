"""Jobs, reports and states go through JSON unchanged, and what is none of them is refused."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from overlay.series.job import Guess, Job, Settings, Variant, job_from
from overlay.series.outcome import AuditTold, JobReport, Output, report_from
from overlay.series.state import AtWork, Ended, State, state_from

JOB = Job(
    key="a" * 64,
    sheet="/days/one/trial.toml",
    trial="one",
    title="Tern 1",
    clip="go",
    recording="bow",
    variant=Variant(shape="square", units="metric"),
    settings=Settings(quality="draft", handles_s=2.0),
    inputs={"log:gps": "b" * 64},
    stamps={"log:gps": "12 345"},
    recipe={"crf": 18.0, "threads": 2, "preset": None},
    cuts=((0, 15), (15, 40)),
    guess=Guess(frames=40, seconds=1.5),
)
REPORT = JobReport(
    job=JOB,
    outcome="done",
    seconds=3.25,
    outputs={"go.mp4": Output(sha256="c" * 64, size_bytes=7)},
    audit=AuditTold(outcome="agrees", sentence="all of it agrees", page="go.html"),
    warnings=("2 frames cannot be decoded",),
    ended_utc="2026-06-11T09:00:00+00:00",
)
STATE = State(
    name="season", phase="clips", host="here", pid=7, started_ticks=99, seconds=1.0,
    updated_utc="2026-06-11T09:00:00+00:00", planned=3, up_to_date=1, done=0, waiting=1,
    elsewhere=0, left_s=4.5, at_work=(AtWork(key="a", name="one: go", done=3, of=40),),
    troubles=(Ended(name="two: go", outcome="failed", sentence="no film"),),
)  # fmt: skip


@pytest.mark.parametrize(
    ("value", "read"), [(JOB, job_from), (REPORT, report_from), (STATE, state_from)]
)
def test_it_comes_back_as_it_was(value: Any, read: Callable[[Any], Any]) -> None:
    assert read(json.loads(json.dumps(value.as_document()))) == value


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"schema": "series-report/9"}, "version 'series-report/9', not 'series-report/1'"),
        ({"outcome": "fine"}, "outcome: "),
        ({"seconds": "a while"}, "seconds: "),
        ({"outputs": {"go.mp4": {"sha256": "c"}}}, "outputs.go.mp4.size_bytes: "),
        ({"job": {"key": "a"}}, "job."),
    ],
)
def test_what_is_no_report_says_where(change: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=says.replace(".", r"\.")):
        report_from({**REPORT.as_document(), **change})


@pytest.mark.parametrize("document", [None, 3, "job", []])
@pytest.mark.parametrize("read", [job_from, report_from, state_from])
def test_what_is_no_table_is_refused(read: Callable[[Any], Any], document: Any) -> None:
    with pytest.raises(ValueError, match="this is no "):
        read(document)


def test_a_report_shares_its_job_with_the_plan_and_is_of_no_other() -> None:
    """A hundred thousand of them would else hold a copy each."""
    document = REPORT.as_document()
    assert report_from(document, JOB).job is JOB
    with pytest.raises(ValueError, match="report of 'aaa"):
        report_from(document, JOB.pieces[0])
