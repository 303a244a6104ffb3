"""How children of a run end, in words, and how the run itself is ended."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from overlay.series.child import Child
from overlay.series.outcome import Outcome
from overlay.series.work import NO_REPORT


def outcome_of(child: Child, code: int) -> Outcome:
    """What has become of a child that left no report."""
    if child.killed_for in ("timed out", "used too much memory"):
        return child.killed_for
    return "killed" if code < 0 else "failed"


def why(child: Child, code: int, words: str, allowed_bytes: int) -> str:
    """Why a job without a report is not done."""
    if child.killed_for == "timed out":
        return f"it was not done after {child.job.timeout_s:,.0f} s, and was ended."
    if child.killed_for == "used too much memory":
        had, may = child.peak_bytes / 1e6, allowed_bytes / 1e6
        beside = "alone" if child.alone else "with the jobs beside it"
        return f"it had {had:,.0f} MB, which {beside} is more than the {may:,.0f} MB allowed."
    if code < 0:
        name = signal.Signals(-code).name if -code in set(signal.Signals) else str(-code)
        return f"its process was killed by {name}, {child.attempt} times."
    if code == NO_REPORT and words:
        return words
    told = words or f"code {code}, without a word"
    return f"its process ended by a defect in trialreel ({told}); please report it."


@contextmanager
def interruptible() -> Iterator[None]:
    """Let SIGTERM and a closed terminal end the run as Ctrl-C does."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def interrupted(_number: int, _frame: object) -> None:
        raise KeyboardInterrupt

    numbers = (signal.SIGTERM, signal.SIGHUP)
    before = {number: signal.signal(number, interrupted) for number in numbers}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
