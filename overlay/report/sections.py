"""The report as data: its sections in order, each with what it says, its plots and its tables.

The pages, whether HTML or Markdown, print these and add nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from overlay.report.columns import Table
from overlay.report.not_shown import not_shown
from overlay.report.plots.course import course_plot
from overlay.report.plots.curves import curve_plots, trim_curve
from overlay.report.plots.day import day_plot
from overlay.report.plots.drawing import Plot
from overlay.report.plots.full_throttle import full_throttle_plot
from overlay.report.plots.launches import bow_plot, speed_plot
from overlay.report.run_tables import flow_note
from overlay.report.summary_table import Fact, full_throttle_fact
from overlay.report.tables import tables_of
from overlay.report.words import one_line, sentence

if TYPE_CHECKING:
    from overlay.analysis.results import Results
    from overlay.trial import Trial

CAUTIONS = (
    "Range and endurance are for comparison only, and never a passage plan.",
    "Single figures have current and wind in them, and are no claim by themselves.",
    "Local rules, the makers' limits and licensed practice stand above all that is said here.",
    "No figure claims to follow a procedure for trials of ships, which are for large hulls.",
)

READING = (
    "A mean both ways has current and wind together taken out; what is single was had in one "
    "direction and has them in it."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One section of the page; `says` are paragraphs before its tables, `items` a list."""

    name: str
    title: str
    says: tuple[str, ...] = ()
    items: tuple[str, ...] = ()
    plots: tuple[Plot, ...] = ()
    tables: tuple[Table, ...] = ()

    @property
    def empty(self) -> bool:
        """Whether there is nothing in it."""
        return not (self.says or self.items or self.plots or self.tables)


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """A whole report.

    Parameters
    ----------
    title, subtitle
        The trial's name; its day, place and boat.
    full_throttle
        What an engine man asks first.
    sections
        In the order of the page, without empty ones.
    """

    title: str
    subtitle: str
    units: str
    full_throttle: Fact
    sections: tuple[Section, ...]
    software: str = field(default="")

    def tables(self) -> tuple[Table, ...]:
        """All tables that have a file."""
        return tuple(
            table for section in self.sections for table in section.tables if table.raw_headings
        )

    def plots(self) -> tuple[Plot, ...]:
        """All plots."""
        return tuple(plot for section in self.sections for plot in section.plots)


def report_of(results: Results, trial: Trial, software: str) -> Report:
    """Everything that the pages print."""
    sheet, tables = trial.sheet, tables_of(results, trial)
    sections = (*_first(results, trial, tables), *_last(results, trial, tables))
    return Report(
        title=one_line(sheet.name),
        subtitle=_subtitle(trial),
        units=sheet.units,
        full_throttle=full_throttle_fact(results, sheet),
        sections=tuple(section for section in sections if not section.empty),
        software=software,
    )


def _subtitle(trial: Trial) -> str:
    sheet = trial.sheet
    day = "" if sheet.date is None else f"{sheet.date.day} {sheet.date:%B %Y}"
    parts = (day, sheet.conditions.place or "", sheet.boat.name or "")
    return one_line(" · ".join(part for part in parts if part))


def _first(
    results: Results, trial: Trial, tables: Mapping[str, tuple[Table, ...]]
) -> tuple[Section, ...]:
    """What was tested and what was found."""
    return (
        Section(name="tested", title="What was tested", tables=tables["tested"]),
        Section(
            name="full-throttle",
            title="Full throttle against the maker's band",
            says=(_full_throttle(results, trial),),
            plots=_some(full_throttle_plot(results)),
        ),
        Section(
            name="summary",
            title="Summary",
            says=(READING, *_look_at(results)),
            tables=tables["summary"],
        ),
        Section(
            name="launches",
            title="Launches",
            plots=_some(speed_plot(results, trial)),
            tables=tables["launches"],
        ),
        Section(
            name="steps",
            title="Steps",
            plots=curve_plots(results, trial),
            tables=tables["steps"],
        ),
        Section(
            name="attitude",
            title="Attitude",
            plots=(
                *_some(bow_plot(results, trial)),
                *_some(trim_curve(results, trial.sheet.units)),
            ),
            tables=tables["attitude"],
        ),
        Section(name="turns", title="Turns and stops", tables=tables["turns"]),
        Section(name="timed", title="Trim and lift", tables=tables["timed"]),
        Section(
            name="day",
            title="The day",
            plots=(*_some(day_plot(results, trial)), *_some(course_plot(results, trial))),
            tables=tables["day"],
        ),
    )


def _last(
    results: Results, trial: Trial, tables: Mapping[str, tuple[Table, ...]]
) -> tuple[Section, ...]:
    """What the figures rest on, and what they must not be used for."""
    missing = _sentences((*results.missing, *not_shown(results, trial)))
    cautions = (*CAUTIONS, flow_note(trial.flow.text))
    return (
        Section(name="definitions", title="Definitions", tables=tables["definitions"]),
        Section(name="delays", title="Delays and laws", tables=tables["delays"]),
        Section(
            name="missing",
            title="What is missing, and why",
            items=missing or ("Nothing that the logs could give.",),
        ),
        Section(
            name="warnings",
            title="Warnings",
            items=_sentences(results.set_up.warnings) or ("None.",),
        ),
        Section(name="cautions", title="Cautions", items=cautions),
    )


def _full_throttle(results: Results, trial: Trial) -> str:
    fact = full_throttle_fact(results, trial.sheet)
    if results.set_up.full_throttle is None:
        return f"It cannot be said how the engine stands at full throttle: {fact.how}."
    return f"{fact.text}, {fact.how}."


def _look_at(results: Results) -> tuple[str, ...]:
    count = len(results.set_up.warnings)
    if not count:
        return ()
    return (f"{'One thing' if count == 1 else f'{count} things'} to look at: see Warnings.",)


def _sentences(items: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(sentence(one_line(item)) for item in items)


def _some(plot: Plot | None) -> tuple[Plot, ...]:
    return () if plot is None else (plot,)
