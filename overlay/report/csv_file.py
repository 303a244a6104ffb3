"""A table as a CSV file: numbers in the reader's unit, the unit in the heading."""

from __future__ import annotations

import csv
import io

from overlay.report.columns import Raw, Table

FORMULA_SIGNS = ("=", "+", "-", "@")
"""What begins with one of these is worked out by programs that open tables."""


def csv_text(table: Table) -> str:
    """The table as comma-separated values, an empty cell where there is no value.

    Numbers have ten significant digits. Words that a program could take for a formula get an
    apostrophe before them.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(table.raw_headings)
    writer.writerows([_cell(value) for value in row] for row in table.raw_rows)
    return out.getvalue()


def _cell(value: Raw) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.10g}"
    text = str(value)
    if isinstance(value, str) and text.startswith(FORMULA_SIGNS):
        return f"'{text}"
    return text
