"""A running series: on a terminal a line a job and the sum, without one a plain line a minute."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from rich.console import Console, Group
from rich.live import Live
from rich.progress_bar import ProgressBar
from rich.table import Table
from rich.text import Text

from overlay.cli.amounts import about

if TYPE_CHECKING:
    from overlay.series.books import Watch
    from overlay.series.state import AtWork, State

LINE_EVERY_S = 60.0
MOST_TROUBLES = 5

STAGES = {"start": "begins", "render": "renders", "read": "audits", "tie": "ties"}
"""What a job is told to do, by the stage that it tells of."""


def _to_nobody(_state: State) -> None:
    """Tell nobody."""


@contextmanager
def view(*, quiet: bool = False) -> Iterator[Watch]:
    """Whoever is told each second how far a run is."""
    err = Console(stderr=True, highlight=False, markup=False)
    if quiet:
        yield _to_nobody
    elif err.is_terminal:
        with Live(console=err, auto_refresh=False, transient=True) as live:
            yield lambda state: live.update(picture(state), refresh=True)
    else:
        yield _Lines()


class _Lines:
    """Prints how far a run is, now and then."""

    def __init__(self) -> None:
        self._told_s = time.monotonic()
        self._phase = ""

    def __call__(self, state: State) -> None:
        now = time.monotonic()
        if self._phase == state.phase and now - self._told_s < LINE_EVERY_S:
            return
        self._told_s, self._phase = now, state.phase
        print(sum_of(state), file=sys.stderr, flush=True)


def sum_of(state: State) -> str:
    """All jobs of a run in one line."""
    what = "trials tied" if state.phase == "ties" else "clips done"
    parts = [f"{state.name}: {state.done + state.up_to_date} of {state.planned} {what}"]
    if state.failed:
        parts.append(f"{len(state.failed)} failed")
    parts.append(f"{len(state.at_work)} at work")
    if state.elsewhere:
        parts.append(f"{state.elsewhere} in another run")
    if state.left_s >= 1:
        parts.append(f"about {about(state.left_s)} left")
    return ", ".join(parts)


def picture(state: State) -> Group:
    """A run as it is seen on a terminal."""
    rows = Table.grid(padding=(0, 1), expand=True)
    rows.add_column(ratio=1, no_wrap=True, overflow="ellipsis")
    rows.add_column(no_wrap=True)
    rows.add_column(width=12)
    rows.add_column(justify="right", no_wrap=True)
    for job in state.at_work:
        bar = ProgressBar(total=max(job.of, 1), completed=job.done, width=12)
        left = f"{about(job.left_s)} left"
        rows.add_row(f"  {job.name}", _doing(job), bar, left)
    troubles = [
        Text(f"  {one.outcome}: {one.name}", overflow="ellipsis", no_wrap=True)
        for one in state.troubles[-MOST_TROUBLES:]
    ]
    return Group(Text(sum_of(state), style="bold"), rows, *troubles)


def _doing(job: AtWork) -> str:
    word = STAGES.get(job.stage, job.stage)
    return f"{word} {job.done}/{job.of}" if job.of > 1 else word
