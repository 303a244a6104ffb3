"""The results of a trial held against the logs, and what a film's script says against them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from overlay.analysis.document import document
from overlay.analysis.results import compute_results
from overlay.audit.claims import Judged, judge, load_claims
from overlay.audit.recompute import CannotRecompute
from overlay.audit.recompute.day import Day, read_day
from overlay.audit.recompute.results.document import compare_results
from overlay.audit.recompute.results.held import ResultHeld
from overlay.audit.recompute.sheet import Sheet, read_sheet
from overlay.trial import build_trial
from overlay.workflow.clip_facts import log_facts

if TYPE_CHECKING:
    from collections.abc import Callable

    from overlay.trial import Material
    from sync.tie import Ties


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Figures:
    """The day's results as a document, and the logs as the audit reads them, or why it cannot."""

    document: dict[str, Any]
    sheet: Sheet | None
    day: Day | None
    why: str = ""


def figures_of(material: Material, ties: Ties) -> Figures:
    """What the results of a trial are, and what to hold them against."""
    trial = build_trial(material, ties)
    results = document(compute_results(trial), trial)
    try:
        sheet = read_sheet(material.sheet_path)
        day = read_day(sheet, log_facts(trial))
    except CannotRecompute as cause:
        return Figures(document=results, sheet=None, day=None, why=cause.why)
    return Figures(document=results, sheet=sheet, day=day)


def held_results(figures: Figures) -> tuple[ResultHeld, ...]:
    """Every figure of the day beside what a second implementation of its definition has."""
    if figures.sheet is None or figures.day is None:
        return ()
    return compare_results(figures.sheet, figures.day, figures.document)


def judged(path: Path | None, material: Material, figures: Figures) -> tuple[Judged, ...]:
    """The verdict on every claim of the sheet, and of a file.

    Raises
    ------
    SheetError
        Where the file is no claims file.
    """
    claims = (*material.sheet.claims, *(load_claims(path).claims if path else ()))
    if not claims:
        return ()
    lines = None if figures.day is None else _lines_of(figures.day)
    reserve = material.sheet.reserve
    return judge(claims, figures.document, reserve=reserve, lines_of=lines)


def _lines_of(day: Day) -> Callable[[str, str, float, float], tuple[int, int] | None]:
    """Tells which lines of a log's file hold a channel between two instants."""

    def lines(log: str, channel: str, start_s: float, stop_s: float) -> tuple[int, int] | None:
        found = day.channels.get(channel)
        if found is None or found.log != log:
            return None
        inside = np.flatnonzero((found.t_s >= start_s) & (found.t_s <= stop_s))
        if not inside.size:
            return None
        return int(found.lines[inside[0]]), int(found.lines[inside[-1]])

    return lines
