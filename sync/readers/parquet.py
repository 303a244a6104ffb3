"""Parquet: tables by column, read with pyarrow.

Columns are named as in a delimited table, with their units in the name or in the metadata of
the field under `unit` or `units`. The column of time is a time stamp, text in ISO 8601, or a
number with a unit. Nested columns are not read.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sync.arrays import Floats
from sync.channel import Channel
from sync.errors import EmptyLogError, LogFormatError
from sync.log import Log, Mark
from sync.readers.base import LogSettings, read_bytes
from sync.readers.columnar import Said, channel_of, notes, nothing, ordered, raw_columns
from sync.readers.table_dates import Place
from sync.readers.table_headings import Column, read_headings
from sync.readers.table_layout import Layout, Table
from sync.readers.table_marks import read_marks
from sync.readers.table_times import Times, read_times
from sync.readers.table_values import decimal_comma, read_values

if TYPE_CHECKING:
    import pandas as pd

KEY = "parquet"

MAGIC = b"PAR1"

MOST_CELLS = 400_000_000
"""A file can claim any number of rows; this many cells would take more than 3 GB."""

MOST_ROWS = 10_000_000
"""A day at a hundred hertz; 266 kB can hold three times as many and take 3.5 GB (measured)."""


def claims(head: bytes) -> bool:
    """Whether it begins as every Parquet file does."""
    return head.startswith(MAGIC)


def read(path: Path, name: str, settings: LogSettings) -> Log:
    """Read a Parquet table.

    Raises
    ------
    EmptyLogError
        Where it has no row, or nothing in it can be used.
    LogFormatError
        Where the file is damaged, has no column of time, or its times are wild.
    UnitError
        Where a column has a unit that does not exist or measures something else.
    """
    table = _table(path)
    headings, units = _headings(table)
    columns = read_headings(headings, settings.columns, units=units, path=path)
    if not table.num_rows:
        raise EmptyLogError("the table has columns but no row", path=path)
    place = Place(path=path, name=name, line=1, settings=settings)
    said = Said()
    said.counts["rows"] = table.num_rows
    frame = _text_frame(table, columns)
    try:
        times = read_times(frame, columns, place)
    except LogFormatError as error:  # a table of columns has no lines to point to
        raise LogFormatError(error.what, path=path, key=error.key, advice=error.advice) from error
    order = ordered(times.t_s, said, path)
    channels = _channels(table, frame, columns, times, order.take, said, place)
    marks = _marks(frame, table, columns, times, path)
    if not channels and not marks:
        raise nothing(columns, path)
    return Log(
        name=name,
        path=path,
        format=KEY,
        clock=times.clock,
        channels=channels,
        marks=marks,
        columns=raw_columns(columns, channels, times.used),
        counts={key: count for key, count in said.counts.items() if count or key == "rows"},
        warnings=(*said.warnings, *times.told, *notes(columns)),
    )


def _table(path: Path) -> Any:
    """The table, or one sentence on what is wrong with it."""
    import pyarrow as pa  # late: a fifth of a second
    from pyarrow import parquet

    data = read_bytes(path)
    try:
        file = parquet.ParquetFile(pa.BufferReader(data))
        cells = file.metadata.num_rows * max(file.metadata.num_columns, 1)
        if not 0 <= cells <= MOST_CELLS or file.metadata.num_rows > MOST_ROWS:
            raise LogFormatError(
                f"the file says that it holds {cells:,} values in {file.metadata.num_rows:,} rows, "
                "more than can be read",
                path=path,
                advice="write the columns that matter into a file of their own",
            )
        return file.read(use_threads=False)
    except (pa.ArrowException, OSError, ValueError, KeyError, MemoryError, OverflowError) as error:
        if isinstance(error, LogFormatError):
            raise
        said = " ".join(str(error).split())[:120]
        raise LogFormatError(
            f"the Parquet file is damaged or broke off ({said})",
            path=path,
            advice="a Parquet file that was not closed cannot be read; write it again",
        ) from error


def _headings(table: Any) -> tuple[list[str], list[str]]:
    """Names and units of the columns."""
    units = []
    for column in table.schema:
        meta = {key.lower(): text for key, text in (column.metadata or {}).items()}
        unit = meta.get(b"unit", meta.get(b"units", b""))
        units.append(unit.decode("utf-8", errors="replace"))
    return list(table.schema.names), units


def _text_frame(table: Any, columns: Sequence[Column]) -> pd.DataFrame:
    """Columns of time and events, and those of words, as the text that a table would have."""
    import pandas as pd  # late: half a second
    import pyarrow as pa

    texts: dict[int, pd.Series[str]] = {}
    for column in columns:
        kind = table.schema.types[column.place]
        words = pa.types.is_string(kind) or pa.types.is_large_string(kind)
        words = words or pa.types.is_dictionary(kind)
        if column.role in ("time", "event") or (column.role == "channel" and words):
            texts[column.place] = _as_text(table.column(column.place))
    frame = pd.DataFrame(texts, dtype="str", index=range(table.num_rows))
    return frame.fillna("")


def _as_text(column: Any) -> pd.Series[str]:
    import pandas as pd
    import pyarrow as pa
    import pyarrow.compute as pc

    kind = column.type
    try:
        if pa.types.is_timestamp(kind) and kind.tz is not None:
            column = pc.cast(column, pa.timestamp(kind.unit, "UTC"))
        elif pa.types.is_boolean(kind):
            column = pc.cast(column, pa.int8())
        elif pa.types.is_dictionary(kind):
            column = pc.cast(column, kind.value_type)
        if pa.types.is_floating(column.type):
            cells = ["" if x is None or x != x else repr(x) for x in column.to_pylist()]  # noqa: PLR0124
        else:
            cells = ["" if x is None else str(x) for x in pc.cast(column, pa.string()).to_pylist()]
    except (pa.ArrowException, ValueError, OverflowError):
        cells = [""] * len(column)
    return pd.Series(cells, dtype="str")


def _numbers(column: Any) -> Floats | None:
    """A column as numbers, NaN where it is null; None where it holds no numbers."""
    import pyarrow as pa
    import pyarrow.compute as pc

    try:
        plain = pc.cast(column, pa.float64(), safe=False)
    except pa.ArrowException:
        return None
    return np.array(plain.to_numpy(zero_copy_only=False), dtype=np.float64)


def _channels(
    table: Any,
    frame: pd.DataFrame,
    columns: tuple[Column, ...],
    times: Times,
    take: np.ndarray[tuple[int, ...], np.dtype[np.intp]],
    said: Said,
    place: Place,
) -> dict[str, Channel]:
    found: dict[str, Channel] = {}
    words = tuple(c for c in columns if c.role == "channel" and c.place in frame)
    sheet = _sheet(columns, table.num_rows)
    comma = decimal_comma(frame, words, sheet, place) if words else False
    for column in columns:
        if column.role != "channel":
            continue
        if column.place in frame:
            values = read_values(frame[column.place], column, comma, sheet)
            channel = _from_si(column, values[take], times.t_s[take], times.clock)
        else:
            numbers = _numbers(table.column(column.place))
            if numbers is None:
                said.warnings.append(f"the column {column.heading!r} holds no numbers")
                continue
            channel = channel_of(column, numbers[take], times.t_s[take], times.clock, said)
        if channel is not None:
            found[channel.key] = channel
    said.counts.update(sheet.counts)
    said.warnings += sheet.warnings
    return found


def _from_si(column: Column, values: Floats, t_s: Floats, clock: str) -> Channel | None:
    if not np.isfinite(values).any():
        return None
    return Channel(
        name=column.channel, instance=column.instance, t_s=t_s, values=values, clock=clock,
        source=column.heading,
    )  # fmt: skip


def _sheet(columns: tuple[Column, ...], rows: int) -> Table:
    """What the readers of text cells want to know of where they stand: rows in place of lines."""
    headings = tuple(column.heading for column in columns)
    return Table(
        layout=Layout(delimiter="", line=1, headings=headings), lines=list(range(1, rows + 1))
    )


def _marks(
    frame: pd.DataFrame, table: Any, columns: tuple[Column, ...], times: Times, path: Path
) -> tuple[Mark, ...]:
    if not any(column.role == "event" for column in columns):
        return ()
    filled = np.zeros(table.num_rows, dtype=bool)
    for column in columns:
        if column.role == "channel":
            filled |= ~np.asarray(table.column(column.place).is_null(nan_is_null=True))
    return read_marks(frame, columns, times, filled, _sheet(columns, table.num_rows), path)
