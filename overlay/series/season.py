"""The results of all trials of a series, worked out alike, as `trialreel compare` does it."""

from __future__ import annotations

import datetime as dt
import logging
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from zoneinfo import ZoneInfo

from overlay.analysis.compare import compare
from overlay.analysis.comparing.limits import Likeness
from overlay.analysis.comparing.side import Figures, Side
from overlay.report.words import one_line
from overlay.sheet import TrialSheet, load_sheet
from overlay.trial import Trial, log_span, read_material
from overlay.workflow.compare import worked_out_alike
from overlay.workflow.locate import SHEET_NAME
from sync.errors import TrialReelError

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeasonTrial:
    """One trial: what its sheet says of it, and what was worked out of its logs.

    Parameters
    ----------
    day
        Of the sheet, or of its logs; None where neither is known.
    side
        None where nothing could be worked out; `trouble` says why, in one sentence.
    """

    path: Path
    sheet: TrialSheet | None = None
    day: dt.date | None = None
    side: Side | None = None
    trouble: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Season:
    """All trials of a series and their figures.

    Parameters
    ----------
    figures, likenesses
        With a reading for each trial that has results, in their order.
    alike
        The sheet whose ladder and definitions all are worked out with.
    anchor
        The trial at whose steps engine speeds are equal.
    """

    trials: tuple[SeasonTrial, ...]
    units: str
    figures: tuple[Figures, ...] = ()
    likenesses: tuple[Likeness, ...] = ()
    alike: SeasonTrial | None = None
    anchor: SeasonTrial | None = None

    @property
    def with_results(self) -> tuple[SeasonTrial, ...]:
        """The trials that have results, as the figures have them."""
        return tuple(one for one in self.trials if one.side is not None)


def season_of(sheets: Sequence[Path], units: str | None) -> Season:
    """Work out the results of trials alike; one that cannot be is kept with the reason.

    Parameters
    ----------
    units
        In which all are told; None for those of the first sheet that can be read.
    """
    first = next((sheet for path in sheets if (sheet := _sheet(path)) is not None), None)
    trials = tuple(_trial(path, first, units) for path in sheets)
    told = units or (first.units if first is not None else "nautical")
    worked = [one for one in trials if one.side is not None]
    if not worked:
        return Season(trials=trials, units=told)
    # Steps meet at those of one trial: of the one that has most.
    order = sorted(range(len(worked)), key=lambda i: -len(_side(worked[i]).both_ways()))
    held = compare([_side(worked[i]) for i in order])
    back = [order.index(i) for i in range(len(worked))]
    return Season(
        trials=trials,
        units=told,
        figures=tuple(
            replace(row.figures, readings=tuple(row.figures.readings[i] for i in back))
            for row in held.rows
        ),
        likenesses=tuple(
            replace(
                one,
                stated=tuple(one.stated[i] for i in back),
                states=tuple(one.states[i] for i in back),
                by=tuple(one.by[i] for i in back),
            )
            for one in held.likenesses
        ),
        alike=next(one for one in trials if one.sheet is not None),
        anchor=worked[order[0]],
    )


def titles_of(season: Season, base: Path) -> dict[Path, str]:
    """What trials are called: by their sheets, and by where those lie where names agree."""
    own = {one.path: one_line(one.sheet.name) if one.sheet else "" for one in season.trials}
    taken = list(own.values())
    titles = {}
    for path, title in own.items():
        place = seen_from(path.parent if path.name == SHEET_NAME else path, base)
        titles[path] = f"{title} ({place})" if title and taken.count(title) > 1 else title or place
    return titles


def seen_from(path: Path, base: Path) -> str:
    """The way to a file from where the series lies."""
    return one_line(Path(os.path.relpath(path, base)).as_posix())


def _side(one: SeasonTrial) -> Side:
    assert one.side is not None
    return one.side


def _sheet(path: Path) -> TrialSheet | None:
    try:
        return load_sheet(path)
    except (TrialReelError, OSError) as error:
        _log.info("%s: %s", path, error)
        return None


def _trial(path: Path, first: TrialSheet | None, units: str | None) -> SeasonTrial:
    sheet = _sheet(path)
    try:
        material = read_material(path, with_footage=False)
        trial, side = worked_out_alike(material, first or material.sheet, units)
    except (TrialReelError, OSError) as error:
        day = None if sheet is None else sheet.date
        return SeasonTrial(path=path, sheet=sheet, day=day, trouble=" ".join(str(error).split()))
    return SeasonTrial(path=path, sheet=material.sheet, day=_day(trial), side=side)


def _day(trial: Trial) -> dt.date | None:
    """The day of the sheet, or the one on which the logs begin, where the crew was."""
    if trial.sheet.date is not None:
        return trial.sheet.date
    span = log_span(trial)
    if span is None:
        return None
    zone = ZoneInfo(trial.sheet.time_zone or "UTC")
    return dt.datetime.fromtimestamp(span.start_s, tz=zone).date()
