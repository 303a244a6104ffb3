"""The cells of a table as numbers in SI."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.errors import LogFormatError
from sync.readers.base import bounded, plural
from sync.readers.table_dates import Place
from sync.readers.table_headings import Column
from sync.readers.table_layout import NO_VALUE, Table
from sync.units import to_si

if TYPE_CHECKING:
    import pandas as pd

GEARS = {
    "f": 1.0, "fwd": 1.0, "forward": 1.0, "ahead": 1.0, "d": 1.0,
    "n": 0.0, "neutral": 0.0,
    "r": -1.0, "rev": -1.0, "reverse": -1.0, "astern": -1.0,
}  # fmt: skip
"""Words for a gear, folded."""

POINT = r"\s*[-+]?\d*\.\d+\s*"
"""A number with a decimal point."""


def decimal_comma(
    frame: pd.DataFrame, columns: tuple[Column, ...], table: Table, place: Place
) -> bool:
    """Whether a comma stands for the decimal point, in the whole table or nowhere."""
    numbers = [(one.heading, frame[one.place].str) for one in columns if one.role == "channel"]
    commas = [name for name, text in numbers if text.contains(",", regex=False).any()]
    if not commas:
        return False
    points = [name for name, text in numbers if text.fullmatch(POINT).any()]
    if points:
        raise LogFormatError(
            f"numbers have decimal points (in {points[0]!r}) and commas (in {commas[0]!r})",
            path=place.path,
            line=table.layout.line,
            advice="write all decimals one way, and nothing between thousands",
        )
    return True


def read_values(text: pd.Series[str], column: Column, comma: bool, table: Table) -> Floats:
    """A column in SI, NaN where a cell holds no value."""
    import pandas as pd  # late: half a second

    plain = text.str.replace(",", ".", regex=False) if comma else text
    numbers = pd.to_numeric(plain, errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)
    odd = np.flatnonzero(np.isnan(numbers))
    words = text.iloc[odd].str.strip().str.casefold()
    if column.channel == "gear":
        numbers = numbers.copy()
        numbers[odd] = words.map(GEARS).to_numpy(dtype=np.float64)
        unread = odd[np.isnan(numbers[odd]) & ~words.isin(NO_VALUE).to_numpy()]
    else:
        unread = odd[~words.isin(NO_VALUE).to_numpy()]
    if unread.size:
        table.counts[f"unreadable:{column.key}"] += int(unread.size)
        table.warnings.append(
            f"{plural(int(unread.size), 'cell')} of {column.heading!r} could not be read, first "
            f"at line {table.lines[int(unread[0])]} ({text.iloc[int(unread[0])]!r})"
        )
    assert column.unit is not None  # a column without one has no channel
    scaled = to_si(1.0, column.unit) - to_si(0.0, column.unit)
    values, spikes = bounded(numbers * scaled + to_si(0.0, column.unit), column.channel)
    if spikes:
        table.counts[f"spikes:{column.key}"] += spikes
        table.warnings.append(
            f"{plural(spikes, 'value')} of {column.heading!r} cannot be: left out as no value"
        )
    return values
