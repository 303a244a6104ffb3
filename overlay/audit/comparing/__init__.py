"""Three things held against each other: the picture, the ledger, and the logs.

Each thing that can be read (a number, a label, a mark on a scale) becomes a `Compared`: what each
of the three has of it on every frame that was looked at, and which pairs of them disagree. From
that follow stretches of disagreement, strips for the time line, and counts.
"""

from __future__ import annotations

from overlay.audit.comparing.compared import Compared, Frames, to_be_seen
from overlay.audit.comparing.early import eager
from overlay.audit.comparing.stretches import counts_of, disagreements_of, strip_of
from overlay.audit.comparing.whole import Sides, compare_all

__all__ = [
    "Compared",
    "Frames",
    "Sides",
    "compare_all",
    "counts_of",
    "disagreements_of",
    "eager",
    "strip_of",
    "to_be_seen",
]
