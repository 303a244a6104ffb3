"""What every instrument ought to show, worked out anew from the log files.

The second implementation: it leans on nothing of the product but the format of the ledger, and is
written from the formulas as they are printed, so that a wrong factor, filter or rounding that the
product has in one place cannot pass a comparison unnoticed. It may be slow.

What cannot be worked out anew is `CannotRecompute`, with the reason; it is never agreement.
"""

from __future__ import annotations

from overlay.audit.recompute.compare import LedgerHeld, NotHeld, compare_ledger, compare_with
from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.expected import Expected, Finding, LogRow, Texts
from overlay.audit.recompute.shows import Shows, shows_of
from overlay.audit.recompute.side import LogSide

__all__ = [
    "CannotRecompute",
    "Expected",
    "Finding",
    "LedgerHeld",
    "LogRow",
    "LogSide",
    "NotHeld",
    "Shows",
    "Texts",
    "compare_ledger",
    "compare_with",
    "shows_of",
]
