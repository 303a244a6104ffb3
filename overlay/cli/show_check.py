"""What `trialreel check` prints: first what to see to, then the day, then the details."""

from __future__ import annotations

import datetime as dt
import math
import sys
import textwrap
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from overlay.cli.console import OUT, as_document, heading, table
from overlay.cli.exit_codes import BAD_INPUT, DONE
from overlay.figures import NO_VALUE, figure
from overlay.report.words import course, time_of_day
from overlay.workflow.checking.words import listed, places
from sync.clock import UTC, Span

if TYPE_CHECKING:
    from rich.table import Table

    from overlay.workflow.checking.model import (
        ChannelReport,
        CheckOutcome,
        ClockReport,
        Coverage,
        LogReport,
        RunReport,
    )
    from sync.tie import Loop

LEAST_TOLD_S = 0.05
BY = {"stated": "sheet", "estimated": "clues", "unstated": "nobody"}


def check(outcome: CheckOutcome, *, as_json: bool) -> int:
    """Print what `check` found; the exit code says whether all of it can be used."""
    code = BAD_INPUT if outcome.unreadable else DONE
    for reason in outcome.unreadable:
        print(f"trialreel: {reason}", file=sys.stderr)
    if as_json:
        from dataclasses import asdict

        from overlay.workflow.checking.model import SCHEMA

        as_document({"schema": SCHEMA, **asdict(outcome)})
        return code
    heading(outcome.name, _day(outcome))
    _verdict(outcome)
    _runs(outcome)
    _clocks(outcome)
    _recordings(outcome)
    for log in outcome.logs:
        _log(log, outcome.time_zone)
    _list("what cannot be computed, and why", outcome.cannot)
    return code


def _day(outcome: CheckOutcome) -> str:
    """The date, and from when to when there are logs."""
    zone, span = outcome.time_zone, outcome.span
    if span is None:
        return "no log that is tied has a value"
    date = dt.datetime.fromtimestamp(span.start_s, tz=ZoneInfo(zone))
    start, stop = time_of_day(span.start_s, zone), time_of_day(span.stop_s, zone)
    return f"{date.day} {date:%B %Y}, {start} to {stop}, {zone}"


def _verdict(outcome: CheckOutcome) -> None:
    """What matters to somebody who is tired and still afloat, numbered through."""
    number = 0
    for where, none, what in (
        ("water", "Nothing to see to before leaving the water.", "before leaving the water"),
        ("desk", "", "at the desk"),
    ):
        mine = [one.text for one in outcome.concerns if one.where == where]
        if not mine:
            if none:
                OUT.print(none, style="bold")
            continue
        things = "1 thing" if len(mine) == 1 else f"{len(mine)} things"
        OUT.print(f"{things} to see to {what}:", style="bold")
        for text in mine:
            number += 1
            _paragraph(f"{number:>3}  ", text)
    OUT.print()


def _paragraph(mark: str, text: str) -> None:
    """A paragraph that hangs by its mark; whole where nobody reads it on a screen."""
    if not OUT.is_terminal:
        OUT.print(f"{mark}{text}")
        return
    OUT.print(
        textwrap.fill(
            text,
            width=OUT.width,
            initial_indent=mark,
            subsequent_indent=" " * len(mark),
            break_long_words=False,
            break_on_hyphens=False,
        )
    )


def _list(title: str, items: tuple[str, ...]) -> None:
    if items:
        heading(title)
        for item in items:
            _paragraph("  · ", item)


def _tight(made: Table, *right: int) -> Table:
    """A table with one space between its columns, some of them set to the right."""
    made.padding = (0, 1, 0, 0)
    made.pad_edge = False
    for place in right:
        made.columns[place].justify = "right"
    for column in made.columns[:-1]:
        column.no_wrap = True
    return made


def _runs(outcome: CheckOutcome) -> None:
    if not outcome.runs:
        return
    names = [one.recording for one in outcome.runs[0].coverage]
    filmed = any(run.clips for run in outcome.runs)
    title = "runs, and what each recording has of them" if names else "runs"
    unit = figure("speed", outcome.units).unit
    fixed = ("begins", "run", "for", "on", unit)
    made = _tight(table(title, *fixed, *names, *(["clip"] if filmed else [])), 2, 3, 4)
    rows = [_run(run, outcome) for run in outcome.runs]
    for place, column in enumerate(made.columns):
        # A time that is cut short is worse than a name that takes two lines.
        column.no_wrap = place < len(fixed)
        if place < len(fixed):
            column.min_width = max(len(row[place]) for row in rows)
    for run, row in zip(outcome.runs, rows, strict=True):
        covered = (_covered(one, run.span.length_s) for one in run.coverage)
        made.add_row(*row, *covered, *([", ".join(run.clips)] if filmed else []))
    OUT.print(made)


def _run(run: RunReport, outcome: CheckOutcome) -> tuple[str, ...]:
    """When, what, how long, on which course, how fast. Launches and stops have no one speed."""
    speed = ""
    if run.kind not in ("launch", "stop") and math.isfinite(run.speed_mps):
        speed = figure("speed", outcome.units).text(run.speed_mps)
    return (
        time_of_day(run.span.start_s, outcome.time_zone),
        run.name,
        f"{run.span.length_s:.0f} s",
        course(run.course_rad) if math.isfinite(run.course_rad) else NO_VALUE,
        speed,
    )


def _covered(one: Coverage, lasts_s: float) -> str:
    """How much of a run a recording has, in seconds of the run."""
    if one.part == "none":
        return "–"
    if one.part == "whole":
        return "whole"
    if one.from_s < LEAST_TOLD_S:
        return f"to {one.to_s:.0f} s"
    if one.to_s > lasts_s - LEAST_TOLD_S:
        return f"from {one.from_s:.0f} s"
    return f"{one.from_s:.0f}–{one.to_s:.0f} s"


def _clocks(outcome: CheckOutcome) -> None:
    on_utc = [log.name for log in outcome.logs if log.clock == UTC]
    stamped = f" (by their own stamps on UTC: {', '.join(on_utc)})" if on_utc else ""
    title = f"clocks{stamped}"
    made = _tight(table(title, "clock", "its zero", "± (1 sd)", "runs", "tied by"), 2, 3)
    for one in outcome.clocks:
        made.add_row(*_clock(one, outcome.time_zone))
    if made.row_count:
        OUT.print(made)
    elif on_utc:
        heading(title)
    _list("around the loops", tuple(_loop(loop) for loop in outcome.loops))
    aside = [f"{one.text}: {text}" for one in outcome.clocks for text in one.set_aside]
    _list("at odds with the rest, and set aside", tuple(aside))


def _clock(one: ClockReport, zone: str) -> tuple[str, ...]:
    name = one.clock.replace(":", " ").replace("footage", "recording")
    if one.refused is not None:
        return (name, "no tie", "", "", "see above")
    runs = ""
    if math.isfinite(one.gains_ppm):
        way = "fast" if one.gains_ppm >= 0 else "slow"
        runs = f"{abs(one.gains_ppm):.1f} ± {one.gains_sd_ppm:.1f} ppm {way}"
    typed = " (typed)" if one.typed else ""
    by = ", ".join(one.rests_on) + typed
    return (name, _instant(one.zero_utc_s, zone), _deviation(one.sd_s), runs, by)


def _instant(t_utc_s: float, zone: str) -> str:
    """A time of day to the millisecond."""
    whole, part = divmod(round(t_utc_s * 1000), 1000)
    return f"{time_of_day(whole, zone)}.{part:03d}"


def _deviation(sd_s: float) -> str:
    return f"{sd_s:.1f} s" if sd_s >= 0.1 else f"{sd_s * 1000:.1f} ms"


def _loop(loop: Loop) -> str:
    ends = (*loop.clocks, loop.clocks[0])
    way = " – ".join("UTC" if end == UTC else end.partition(":")[2] for end in ends)
    miss, doubt = _deviation(abs(loop.misclosure_s)), _deviation(loop.sd_s)
    kinds = ", ".join(dict.fromkeys(kind.replace("_", " ") for kind in loop.kinds))
    return f"{way} ({kinds}): closes to {miss}, {doubt} expected"


def _recordings(outcome: CheckOutcome) -> None:
    if not outcome.recordings:
        return
    heads = ("recording", "files", "picture", "rate", "length", "shot from", "sound")
    made = _tight(table("recordings", *heads), 1, 3, 4)
    for film in outcome.recordings:
        made.add_row(
            film.name,
            str(len(film.paths)),
            f"{film.width_px}×{film.height_px}",
            f"{film.rate_hz:.2f} /s",
            f"{film.length_s:.1f} s",
            NO_VALUE if film.shot is None else time_of_day(film.shot.start_s, outcome.time_zone),
            film.sound,
        )
    OUT.print(made)
    heard = [f"{film.name}: {clap}" for film in outcome.recordings for clap in film.claps]
    _list("claps heard", tuple(heard))
    rest = [_said(film.name, text) for film in outcome.recordings for text in film.remarks]
    rest += [f"{film.name}: {text}" for film in outcome.recordings for text in film.warnings]
    _list("of the recordings", tuple(rest))


def _said(name: str, text: str) -> str:
    return text if text.startswith(name) else f"{name}: {text}"


def _log(log: LogReport, zone: str) -> None:
    clock = "on UTC" if log.clock == UTC else "on its own clock"
    when = "no values"
    if log.span is not None and log.tied:
        when = f"{time_of_day(log.span.start_s, zone)} to {time_of_day(log.span.stop_s, zone)}"
    elif log.span is not None:
        when = f"{log.span.length_s:.0f} s long"
    labels = {label: log.marks.count(label) for label in log.marks}
    told = ", ".join(label if n == 1 else f"{n} × {label}" for label, n in labels.items())
    marks = f", tie marks {told}" if told else ""
    title = f"log {log.name}: {log.format}, {clock}, {when}{marks}"
    if not log.channels:
        heading(title)
    else:
        heads = ("channel", "rate", "values", "none", "holes", "late by", "says")
        made = _tight(table(title, *heads), 1, 2, 3, 4, 5)
        for channel in log.channels:
            made.add_row(*_channel(channel))
        OUT.print(made)
    notes = [*_left_out(log), *_holes(log, zone), *log.warnings]
    for note in notes:
        _paragraph("  · ", note)


def _channel(one: ChannelReport) -> tuple[str, ...]:
    odd = " (see above)" if one.ailments else ""
    late, by = "", ""
    if one.delay_origin != "unstated" or one.delay_sd_s > 0:
        late, by = f"{one.delay_s:.2f} ± {one.delay_sd_s:.2f} s", BY[one.delay_origin]
    return (
        f"{one.key}{odd}",
        f"{one.rate_hz:.1f} Hz" if math.isfinite(one.rate_hz) else NO_VALUE,
        str(one.samples),
        str(one.without_value or ""),
        str(len(one.holes) or ""),
        late,
        by,
    )


def _left_out(log: LogReport) -> list[str]:
    told = [
        f"{channel.key} {count} {why}"
        for channel in log.channels
        for why, count in channel.left_out
    ]
    return [f"values left out: {', '.join(told)}"] if told else []


def _holes(log: LogReport, zone: str) -> list[str]:
    """Where values are missing; course is spared, which receivers leave out at rest."""
    clock = UTC if log.tied else log.clock
    alike: dict[tuple[Span, ...], list[str]] = {}
    for channel in log.channels:
        if channel.holes and not channel.key.startswith("course"):
            alike.setdefault(channel.holes, []).append(channel.key)
    return [f"no {listed(keys)} for {places(holes, clock, zone)}" for holes, keys in alike.items()]
