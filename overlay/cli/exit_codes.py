"""The exit codes, one table.

======  =============================================================
0       done
1       something disagrees, or failed
2       bad input
3       can't say: a refused tie, too little read
130     interrupted
======  =============================================================
"""

from __future__ import annotations

from overlay.errors import (
    AnalysisError,
    AuditError,
    DisagreementError,
    FaceplateError,
    OutputError,
    RenderError,
    SheetError,
    WishError,
)
from sync.errors import SyncError, TieRefused, TrialReelError

DONE = 0
FAILED = 1
BAD_INPUT = 2
CANNOT_SAY = 3
INTERRUPTED = 130

_BY_KIND: tuple[tuple[type[TrialReelError], int], ...] = (
    # The first kind that fits decides, so that branches stand before their stem.
    (TieRefused, CANNOT_SAY),
    (AnalysisError, CANNOT_SAY),
    (SheetError, BAD_INPUT),
    (FaceplateError, BAD_INPUT),
    (AuditError, BAD_INPUT),
    (DisagreementError, FAILED),
    (WishError, BAD_INPUT),
    (OutputError, FAILED),
    (RenderError, FAILED),
    (SyncError, BAD_INPUT),
    (TrialReelError, FAILED),
)


def exit_code(error: TrialReelError) -> int:
    """The exit code that an error ends the program with."""
    return next(code for kind, code in _BY_KIND if isinstance(error, kind))
