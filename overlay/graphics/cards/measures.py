"""How much room the parts of a table take."""

from __future__ import annotations

from collections.abc import Sequence

from overlay.graphics.cards.base import CardBench

GAP = 0.024
"""Least room between two columns, as a share of the short side."""

PITCH, WIDEST_PITCH, NOTE_PITCH = 1.6, 2.15, 1.45
"""From one baseline to the next, in heights of capitals."""


def row_height(bench: CardBench, label: Sequence[str]) -> int:
    """The least height of a row, its first cell in lines."""
    cap = bench.face("text").cap_px
    return round(PITCH * cap) + round(NOTE_PITCH * cap) * max(0, len(label) - 1)


def head_height(bench: CardBench, lines: int) -> int:
    """From the top of a table's head down to its first row."""
    cap = bench.face("text").cap_px
    return round(NOTE_PITCH * cap) * lines + round(0.35 * cap) if lines else 0


def notes_height(bench: CardBench, lines: Sequence[str]) -> int:
    """What the notes take, with the room above them."""
    cap = bench.face("text").cap_px
    return round(NOTE_PITCH * cap) * len(lines) + round(0.7 * cap) if lines else 0
