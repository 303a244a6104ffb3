"""The terminal: where answers go, and the forms that they take."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:
    from overlay.workflow.progress import Progress

OUT = Console(highlight=False, markup=False, soft_wrap=not sys.stdout.isatty())
"""Where answers go. What is not a terminal gets whole lines, whatever their length. Markup
is off: crews write brackets in names."""


def as_document(document: Any) -> None:
    """Print an answer for a program to read."""
    from overlay.documents import without_nan

    plain = without_nan(document)
    print(json.dumps(plain, indent=2, ensure_ascii=False, allow_nan=False, default=str))


@contextmanager
def progress(*, quiet: bool = False) -> Iterator[Progress]:
    """A progress line with rate and time left on a terminal, and nothing elsewhere."""
    from rich.progress import BarColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    from overlay.workflow.progress import nobody

    err = Console(stderr=True)
    if quiet or not err.is_terminal:
        yield nobody
        return
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.fields[rate]}"),
        TimeRemainingColumn(),
    )
    with Bar(*columns, console=err, transient=True) as bar:
        tasks: dict[str, Any] = {}

        def tell(stage: str, done: float, total: float) -> None:
            if stage not in tasks:
                tasks[stage] = bar.add_task(stage, total=total, rate="")
            speed = bar.tasks[tasks[stage]].speed
            frames = f"{speed:.0f} frames/s" if speed and total > 1 else ""
            bar.update(tasks[stage], completed=done, total=total, rate=frames)

        yield tell


def table(title: str, *headings: str) -> Table:
    """A table in the house's form: rules above and below, none between."""
    from rich import box

    made = Table(title=title, title_justify="left", box=box.HORIZONTALS, title_style="bold")
    for heading in headings:
        made.add_column(heading, overflow="fold")
    return made


def heading(name: str, rest: str = "") -> None:
    """A line that begins with a name in bold."""
    OUT.print(Text(name, style="bold") + Text(f"  {rest}" if rest else ""))


def lines(title: str, items: tuple[str, ...]) -> None:
    """A titled list, or nothing where it is empty."""
    if items:
        heading(title)
        for item in items:
            OUT.print(f"  · {item}")
