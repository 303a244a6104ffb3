"""The ledger: every number that a render showed, frame by frame, and where it stood.

A Parquet file, one row for each text on each frame (`table.py`), with the facts that hold for the
whole clip as JSON in the file's own metadata; one of them says where on the picture something can
be read (`layout.py`). A print of every picture (`prints.py`) lies in that metadata too. It knows
the format and nothing else of the package, so that whoever audits a clip can read it without
touching what made it.
"""

from __future__ import annotations

from overlay.ledger.joining import join_ledgers
from overlay.ledger.layout import Box, Field, Layout, Lettered, Pointer, Still
from overlay.ledger.prints import Prints, print_of
from overlay.ledger.shown import Shown
from overlay.ledger.table import LEDGER_END, Ledger, LedgerWriter, Source, read_ledger, read_prints

__all__ = [
    "LEDGER_END",
    "Box",
    "Field",
    "Layout",
    "Ledger",
    "LedgerWriter",
    "Lettered",
    "Pointer",
    "Prints",
    "Shown",
    "Source",
    "Still",
    "join_ledgers",
    "print_of",
    "read_ledger",
    "read_prints",
]
