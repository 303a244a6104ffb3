"""Where one clue leaves room for another: offsets carried from clock to clock."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from sync.clock import UTC, Span
from sync.clue import Clue
from sync.tie import Ties

STAMP_SDS = 3.0
"""The sheet's `clock_within` is taken for so many standard deviations."""


def windows_on(clues: Sequence[Clue], clock: str, ties: Ties) -> tuple[Span, ...]:
    """Where the offset to a log's clock may lie by the clues to UTC; anywhere where the log is
    not tied."""
    if clock != UTC and clock not in ties.by_clock:
        return ()
    to_log = ties.to_utc(clock).inverse()
    spans = []
    for clue in clues:
        at = clue.at_s or 0.0
        middle = to_log.carry(at + clue.offset_s) - at
        reach = STAMP_SDS * clue.sd_s + 1.0
        spans.append(Span(start_s=middle - reach, stop_s=middle + reach))
    return tuple(spans)


def on_utc(clue: Clue, ties: Ties) -> tuple[Clue, ...]:
    """A clue to a log's clock as one to UTC, if that log is tied."""
    if clue.to_clock == UTC:
        return (clue,)
    if clue.to_clock not in ties.by_clock:
        return ()
    tie = ties.by_clock[clue.to_clock]
    at = clue.at_s or 0.0
    there = at + clue.offset_s
    return (
        replace(
            clue,
            to_clock=UTC,
            offset_s=tie.map.carry(there) - at,
            sd_s=math.hypot(clue.sd_s, tie.sd_at(there)),
        ),
    )
