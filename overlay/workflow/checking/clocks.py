"""Which clock everything is on, and what ties it."""

from __future__ import annotations

import math

from overlay.trial import Material, footage_clock
from overlay.workflow.checking.model import ClockReport
from sync.clock import UTC
from sync.tie import Tie, Ties, clock_text


def clock_reports(material: Material, ties: Ties) -> tuple[ClockReport, ...]:
    """A report for every clock of the trial, logs first, each in the sheet's order."""
    clocks = [log.clock for log in material.logs.values() if log.clock != UTC]
    clocks += [footage_clock(entry.name) for entry in material.sheet.recordings]
    return tuple(_report(clock, ties) for clock in dict.fromkeys(clocks))


def _report(clock: str, ties: Ties) -> ClockReport:
    tie = ties.by_clock.get(clock)
    if tie is None:
        return ClockReport(
            clock=clock,
            text=clock_text(clock),
            zero_utc_s=math.nan,
            sd_s=math.nan,
            gains_ppm=math.nan,
            gains_sd_ppm=math.nan,
            rests_on=(),
            set_aside=(),
            typed=False,
            refused=ties.refused.get(clock, "nothing was found that ties it"),
        )
    told = tie.rate_known
    return ClockReport(
        clock=clock,
        text=clock_text(clock),
        zero_utc_s=tie.map.offset_s,
        sd_s=tie.sd_s,
        gains_ppm=(1 / tie.map.rate - 1) * 1e6 if told else math.nan,
        gains_sd_ppm=tie.rate_sd * 1e6 if told else math.nan,
        rests_on=_evidence(tie),
        set_aside=tuple(clue.text or clue.kind for clue in tie.set_aside),
        typed=tie.typed,
        refused=None,
    )


def _evidence(tie: Tie) -> tuple[str, ...]:
    """The kinds of a tie's clues, with how many of each: `2 shared marks`."""
    kinds = [clue.kind.replace("_", " ") for clue in tie.clues]
    counts = {kind: kinds.count(kind) for kind in kinds}
    return tuple(kind if count == 1 else f"{count} × {kind}" for kind, count in counts.items())
