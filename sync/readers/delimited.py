"""Delimited tables: comma, semicolon or tab separated text with headings.

Knowledge from RFC 4180 for quoting and ISO 8601 for times; names and forms of headings are
common practice, no published source. Not covered: tables without headings, fixed widths,
thousands separators, and times in days since 1900 as spreadsheets keep them.

A cell that is empty or says `--`, `NaN` and the like is no value; one outside what is
physically possible is a spike and no value either. A column of events makes tie marks.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.channel import Channel
from sync.channel_kinds import CHANNELS
from sync.errors import EmptyLogError, LogFormatError
from sync.log import Log, RawColumn
from sync.readers.base import LogSettings, plural, read_bytes
from sync.readers.order import Order, increasing
from sync.readers.table_dates import Place
from sync.readers.table_headings import Column, read_headings
from sync.readers.table_layout import NO_VALUE, Table, decode, find_layout, read_table
from sync.readers.table_marks import read_marks
from sync.readers.table_times import Times, read_times
from sync.readers.table_values import decimal_comma, read_values

if TYPE_CHECKING:
    from numpy.typing import NDArray

KEY = "delimited"


def claims(head: bytes) -> bool:
    """Whether the beginning holds headings and rows that fit under them."""
    if b"\0" in head and not head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return False
    text, _ = decode(head)
    return find_layout(text) is not None


def read(path: Path, name: str, settings: LogSettings) -> Log:
    """Read a delimited table.

    Raises
    ------
    EmptyLogError
        Where there are headings and nothing below them that can be used.
    LogFormatError
        Where there is no table, no time, or a time that can be read in several ways.
    UnitError
        Where a heading has a unit that does not exist or measures something else.
    """
    text, encoding = decode(read_bytes(path))
    layout = find_layout(text)
    if layout is None:
        raise LogFormatError(
            "there is no table with headings in this file",
            path=path,
            advice="put a line of headings with units above the values, such as 'time (s)'",
        )
    table = read_table(text, layout, path)
    columns = read_headings(
        layout.headings, settings.columns, units=table.units, path=path, line=layout.line
    )
    if not table.rows:
        raise EmptyLogError("the table has headings but no whole row below them", path=path)
    if encoding:
        table.warnings.append(encoding)
    place = Place(path=path, name=name, line=layout.line, settings=settings)
    return _assemble(table, columns, place)


def _assemble(table: Table, columns: tuple[Column, ...], place: Place) -> Log:
    import pandas as pd  # late: half a second

    frame = pd.DataFrame(table.rows, dtype="str")
    times = read_times(frame, columns, place)
    comma = decimal_comma(frame, columns, table, place)
    values = {
        column.place: read_values(frame[column.place], column, comma, table)
        for column in columns
        if column.role == "channel"
    }
    filled = np.zeros(len(frame), dtype=bool)
    for column_place in values:
        words = frame[column_place].str.strip().str.casefold()
        filled |= ~words.isin(NO_VALUE).to_numpy(dtype=bool)
    marks = read_marks(frame, columns, times, filled, table, place.path)
    order = _order(times, filled, table, place)
    channels = _channels(columns, values, times, order, table)
    if not channels and not marks:
        _nothing(columns, place)
    return Log(
        name=place.name,
        path=place.path,
        format=KEY,
        clock=times.clock,
        channels=channels,
        marks=marks,
        columns=_raw(columns, channels, times),
        counts=_counts(table, order),
        warnings=(*table.warnings, *_notes(columns, times)),
    )


def _order(times: Times, filled: NDArray[np.bool_], table: Table, place: Place) -> Order:
    """Which rows to keep, in order of time; rows that only carry a mark stand aside."""
    untimed = int(np.sum(filled & ~np.isfinite(times.t_s)))
    if untimed:
        table.counts["untimed_rows"] += untimed
        table.warnings.append(f"{plural(untimed, 'row')} without a readable time left out")
    try:
        order = increasing(np.where(filled, times.t_s, np.nan))
    except LogFormatError as error:
        raise LogFormatError(error.what, path=place.path, advice=error.advice) from error
    if order.repeated or order.stray:
        table.warnings.append(
            f"{plural(order.repeated, 'row')} at the time of the row before and "
            f"{plural(order.stray, 'row')} out of the order of time left out"
        )
    if order.first_break is not None:
        table.warnings.append(
            f"time runs backwards {plural(order.breaks, 'time')}, first at line "
            f"{table.lines[order.first_break]}; {plural(order.overlapping, 'row')} at times "
            "that a longer stretch also holds left out"
        )
    return order


def _channels(
    columns: tuple[Column, ...],
    values: dict[int, Floats],
    times: Times,
    order: Order,
    table: Table,
) -> dict[str, Channel]:
    channels: dict[str, Channel] = {}
    t = times.t_s[order.take]
    for column in columns:
        if column.role != "channel":
            continue
        taken = values[column.place][order.take]
        if not np.isfinite(taken).any():
            table.warnings.append(f"the column {column.heading!r} holds no value")
            continue
        channels[column.key] = Channel(
            name=column.channel,
            instance=column.instance,
            t_s=t,
            values=taken,
            clock=times.clock,
            source=column.heading,
        )
    return channels


def _nothing(columns: tuple[Column, ...], place: Place) -> None:
    known = [column.heading for column in columns if column.role == "channel"]
    if known:
        raise EmptyLogError(
            f"no value in any of the columns {', '.join(map(repr, known))}", path=place.path
        )
    raise EmptyLogError(
        f"no column is understood among {', '.join(repr(c.heading) for c in columns[:12])}",
        path=place.path,
        line=place.line,
        allowed=tuple(CHANNELS),
        advice="state what they hold under columns in the trial sheet, such as 'speed (kn)'",
    )


def _raw(
    columns: tuple[Column, ...], channels: dict[str, Channel], times: Times
) -> tuple[RawColumn, ...]:
    """What became of every column; of those that are not understood, nothing."""
    return tuple(
        RawColumn(
            name=column.heading,
            unit=column.unit,
            channel="time"
            if column.heading in times.used
            else "event"
            if column.role == "event"
            else column.key
            if column.key in channels and column.role == "channel"
            else None,
        )
        for column in columns
    )


def _notes(columns: tuple[Column, ...], times: Times) -> list[str]:
    notes = [*times.told, *(column.note for column in columns if column.note)]
    blank = [
        repr(column.heading)
        for column in columns
        if column.heading and not column.note and not column.role
    ]
    if blank:
        word = "columns are" if len(blank) > 1 else "column is"
        notes.append(f"{len(blank)} {word} not understood: {', '.join(blank)}")
    spare = [c.heading for c in columns if c.role == "time" and c.heading not in times.used]
    notes.extend(f"the column of time {heading!r} was not needed" for heading in spare)
    return notes


def _counts(table: Table, order: Order) -> dict[str, int]:
    counts = {"rows": len(table.rows)}
    more = dict(table.counts) | {
        "repeated_times": order.repeated,
        "stray_times": order.stray,
        "overlapping_rows": order.overlapping,
        "breaks": order.breaks,
    }
    return counts | {key: count for key, count in more.items() if count}
