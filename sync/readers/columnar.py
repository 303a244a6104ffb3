"""What Parquet and measurement data files have in common: named columns of numbers.

Headings are those of a delimited table, with the unit in them or beside them, and so are the
rules for them (`table_headings`), for columns of time (`table_times`) and for marks.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from sync.arrays import Floats
from sync.channel import Channel
from sync.channel_kinds import CHANNELS
from sync.errors import EmptyLogError, LogFormatError
from sync.log import RawColumn
from sync.readers.base import bounded, plural
from sync.readers.order import Order, increasing
from sync.readers.table_headings import Column
from sync.units import to_si


@dataclass(slots=True)
class Said:
    """What was counted on the way, and what a person should be told."""

    counts: Counter[str] = field(default_factory=Counter)
    warnings: list[str] = field(default_factory=list)


def ordered(t_s: Floats, said: Said, path: Path) -> Order:
    """Which rows to keep, in order of time.

    Raises
    ------
    LogFormatError
        Where time runs wild.
    """
    try:
        order = increasing(t_s)
    except LogFormatError as error:
        raise LogFormatError(error.what, path=path, advice=error.advice) from error
    untimed = int(np.sum(~np.isfinite(t_s)))
    said.counts["untimed_rows"] += untimed
    said.counts["repeated_times"] += order.repeated
    said.counts["stray_times"] += order.stray
    said.counts["overlapping_rows"] += order.overlapping
    said.counts["breaks"] += order.breaks
    out = untimed + order.repeated + order.stray + order.overlapping
    if out:
        said.warnings.append(
            f"{plural(out, 'row')} without a time of its own or out of order left out"
        )
    return order


def channel_of(
    column: Column, values: Floats, t_s: Floats, clock: str, said: Said
) -> Channel | None:
    """A channel from a column in its own unit; None where it holds no value."""
    assert column.unit is not None  # a column without one has no channel
    zero = to_si(0.0, column.unit)
    good, spikes = bounded(values * (to_si(1.0, column.unit) - zero) + zero, column.channel)
    if spikes:
        said.counts[f"spikes:{column.key}"] += spikes
        said.warnings.append(
            f"{plural(spikes, 'value')} of {column.heading!r} cannot be: left out as no value"
        )
    if not np.isfinite(good).any():
        said.warnings.append(f"the column {column.heading!r} holds no value")
        return None
    return Channel(
        name=column.channel,
        instance=column.instance,
        t_s=t_s,
        values=good,
        clock=clock,
        source=column.heading,
    )


def raw_columns(
    columns: tuple[Column, ...], channels: Mapping[str, Channel], used: tuple[str, ...]
) -> tuple[RawColumn, ...]:
    """What became of every column."""
    became = {column.heading: None for column in columns} | dict.fromkeys(used, "time")
    for column in columns:
        if column.role == "event":
            became[column.heading] = "event"
        elif column.role == "channel" and column.key in channels:
            became[column.heading] = column.key
    return tuple(
        RawColumn(name=column.heading, unit=column.unit, channel=became[column.heading])
        for column in columns
    )


def notes(columns: tuple[Column, ...]) -> list[str]:
    """A word on every column that was not taken."""
    told = [column.note for column in columns if column.note]
    blank = [repr(c.heading) for c in columns if c.heading and not c.note and not c.role]
    if blank:
        shown = ", ".join(blank[:12]) + (" and others" if len(blank) > 12 else "")
        word = "columns are" if len(blank) > 1 else "column is"
        told.append(f"{len(blank)} {word} not understood: {shown}")
    return told


def nothing(columns: tuple[Column, ...], path: Path) -> EmptyLogError:
    """The error for a file of which nothing can be used."""
    known = [repr(column.heading) for column in columns if column.role == "channel"]
    if known:
        return EmptyLogError(f"no value in any of the columns {', '.join(known[:12])}", path=path)
    named = ", ".join(repr(column.heading) for column in columns[:12])
    return EmptyLogError(
        f"no column is understood among {named}",
        path=path,
        allowed=tuple(CHANNELS),
        advice="state what they hold under columns in the trial sheet, such as 'speed (kn)'",
    )
