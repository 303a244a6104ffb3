"""Tie marks from the columns of events in a table.

A row that holds nothing but a time and an event was written when the event came: its time is
as exact as it is printed. An event in a row of values was noticed when the row was written,
up to a sample period after it came. A column of noughts and ones is a button: it marks where
it rises.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sync.log import Mark
from sync.readers.table_headings import Column
from sync.readers.table_layout import NO_VALUE, Table
from sync.readers.table_times import Times

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

_OFF = frozenset(("0", "0.0", "false", "off", "no"))
_ON = frozenset(("1", "1.0", "true", "on", "yes"))

ON_THE_GRID = 0.02
"""A time this share of a period off the rows' own beat still belongs to it."""


def read_marks(
    frame: pd.DataFrame,
    columns: tuple[Column, ...],
    times: Times,
    filled: NDArray[np.bool_],
    table: Table,
    path: Path,
) -> tuple[Mark, ...]:
    """All marks of a table, by time.

    Parameters
    ----------
    filled : [shape=(n,)]
        Which rows hold a value of any channel.
    """
    marks: list[Mark] = []
    sample = np.sort(times.t_s[filled & np.isfinite(times.t_s)])
    period = float(np.median(np.diff(sample))) if sample.size > 1 else 0.0
    for column in columns:
        if column.role != "event":
            continue
        texts = [" ".join(cell.split()).casefold() for cell in frame[column.place]]
        for row, label in _events(texts, column):
            t = float(times.t_s[row])
            if not np.isfinite(t):
                table.counts["untimed_marks"] += 1
                table.warnings.append(f"the mark at line {table.lines[row]} has no readable time")
                continue
            marks.append(
                Mark(
                    label=label,
                    clock=times.clock,
                    t_s=t,
                    sd_s=_sd(times, row, period, polled=bool(filled[row])),
                    source=f"{path.name}, line {table.lines[row]}",
                )
            )
    return tuple(sorted(marks, key=lambda mark: mark.t_s))


def _events(texts: list[str], column: Column) -> list[tuple[int, str]]:
    """Rows with an event and its label."""
    given = {text for text in texts if text not in NO_VALUE}
    if given and given <= _OFF | _ON:
        pressed = [text in _ON for text in texts]
        label = " ".join(column.heading.split()).casefold()
        return [
            (row, label)
            for row, now in enumerate(pressed)
            if now and row > 0 and not pressed[row - 1]
        ]
    return [(row, text) for row, text in enumerate(texts) if text not in NO_VALUE]


def _sd(times: Times, row: int, period: float, *, polled: bool) -> float:
    """One standard deviation of a mark's time.

    ::

        half the last printed digit / √3          for a time stamped of its own
        period / √3                               for one noticed on the beat of the rows
    """
    printed = times.step_s / 2 / np.sqrt(3.0)
    if not polled or period <= 0:
        return float(printed)
    t, before = times.t_s[row], times.t_s[max(row - 1, 0)]
    beat = abs(t - before - period) <= max(ON_THE_GRID * period, times.step_s)
    return float(max(printed, period / np.sqrt(3.0))) if beat else float(printed)
