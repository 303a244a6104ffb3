"""How a table of results is printed: its texts as they are, and its notes under it."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from rich.cells import cell_len

from overlay.cli.console import OUT, heading, table

if TYPE_CHECKING:
    from overlay.report.columns import Table

WIDEST = 100
"""Longer lines than this are hard to read, however wide the screen."""

LEAST_PROSE, LONG_HEADING, LONGEST_NAME = 12, 11, 24


def show_table(one: Table) -> None:
    """Print a table: only prose and long names wrap, and units stand under their headings."""
    if one.listed:
        _show_list(one)
        return
    heads = [
        head.text if head.kind == "prose" else _heading(head.text, head.unit)
        for head in one.headings
    ]
    made = table(one.title, *heads)
    made.padding = (0, 1, 0, 0)
    made.pad_edge = False
    for place, (head, column) in enumerate(zip(one.headings, made.columns, strict=True)):
        column.justify = "right" if head.kind == "number" else "left"
        if head.kind == "name":
            longest = max((cell_len(row[place]) for row in one.rows), default=0)
            column.min_width = min(longest, LONGEST_NAME)
            column.max_width = LONGEST_NAME
            continue
        if head.kind == "prose":
            column.min_width = LEAST_PROSE
            continue
        # A number that is cut short is worse than a remark that takes three lines.
        cells = [*heads[place].splitlines(), *(row[place] for row in one.rows)]
        column.no_wrap = True
        column.min_width = max(map(cell_len, cells))
    for number, row in enumerate(one.rows):
        made.add_row(*row, style="bold" if number in one.marked else None)
    OUT.print(made)
    for note in one.notes:
        paragraph(note, indent="  ")


def _show_list(one: Table) -> None:
    heading(one.title)
    for first, then, *behind in one.rows:
        told = f" ({'; '.join(behind)})" if behind else ""
        paragraph(f"{first}: {then}{told}", indent="  ", mark="· ")


def paragraph(text: str, *, indent: str = "", mark: str = "") -> None:
    """A paragraph between the edges of the screen; whole where nobody reads it on one."""
    if not OUT.is_terminal:
        OUT.print(f"{indent}{mark}{text}")
        return
    OUT.print(
        textwrap.fill(
            text,
            min(OUT.width, WIDEST),
            initial_indent=indent + mark,
            subsequent_indent=indent + " " * len(mark),
            break_on_hyphens=False,
        )
    )


def _heading(text: str, unit: str) -> str:
    """Words over unit, the words in two lines where they are long."""
    lines = [*textwrap.wrap(text, LONG_HEADING, break_long_words=False), *([unit] if unit else [])]
    return "\n".join(lines)
