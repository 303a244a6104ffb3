"""The page of a series: what is missing and why, every clip with its audit, all results."""

from __future__ import annotations

import math
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from urllib.parse import quote

from overlay.report.audit_words import many
from overlay.report.furniture import furnished
from overlay.report.pages import units_line
from overlay.report.side_by_side import Letters, SideTable, side_tables, stated_table
from overlay.report.words import listed, one_line
from overlay.series.amounts import clock_text, megabytes, size_text
from overlay.series.missing import Missing, failed_of, place_of, plain, waiting_of
from overlay.series.plan import Refused
from overlay.series.season import Season, SeasonTrial, seen_from, titles_of
from overlay.series.standing import SeriesStanding, Standing

STYLES = ("page.css.j2", "audit.css.j2", "series.css.j2")


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipRow:
    """A clip that is there; `verdict` is what its audit came to, empty where there was none."""

    place: str
    name: str
    address: str
    variant: str
    length: str
    size: str
    took: str
    made: str
    verdict: str = ""
    audit: str = ""
    sentence: str = ""
    letter: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialPart:
    """A trial with its clips; `report` is the address of its own report, where it has one."""

    place: str
    title: str
    told: str
    report: str
    clips: tuple[ClipRow, ...]
    missing: str
    notes: tuple[tuple[str, str], ...]
    warnings: tuple[str, ...]
    trouble: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultTable:
    """Figures of all trials, each row with the place and title of its trial on the page."""

    table: SideTable
    trials: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesPage:
    """What the template prints."""

    name: str
    when: str
    at_work: int
    outcome: str
    line: str
    counts: tuple[tuple[str, str], ...]
    failed: tuple[Missing, ...]
    waiting: tuple[Missing, ...]
    disagreeing: tuple[tuple[str, str], ...]
    trials: tuple[TrialPart, ...]
    without: tuple[TrialPart, ...]
    results: tuple[ResultTable, ...]
    units_line: str
    alike: str
    anchor: str
    older: tuple[tuple[str, str, str], ...]
    software: str


def series_html(standing: SeriesStanding, season: Season) -> str:
    """The series as one HTML page: no script, nothing from elsewhere but links to its clips."""
    return furnished("series.html.j2", STYLES, {"page": page_of(standing, season)})


def page_of(standing: SeriesStanding, season: Season) -> SeriesPage:
    """Everything that the page prints."""
    titles = titles_of(season, standing.folder.path.parent)
    trials = tuple(_trial(one, titles[one.path], standing) for one in season.trials)
    places = {one.path: part for one, part in zip(season.trials, trials, strict=True)}
    named = tuple((places[one.path].place, titles[one.path]) for one in season.with_results)
    return SeriesPage(
        name=one_line(standing.name),
        when=_when(standing.ended_utc),
        at_work=standing.at_work,
        outcome=_outcome(standing),
        line=_line(standing),
        counts=_counts(standing),
        failed=failed_of(standing),
        waiting=waiting_of(standing),
        disagreeing=tuple(
            (place_of(one), one_line(one.job.name)) for one in standing.clips if one.disagrees
        ),
        trials=trials,
        without=tuple(one for one in trials if one.trouble),
        results=tuple(ResultTable(table=table, trials=named) for table in _tables(season)),
        units_line=units_line(season.units),
        alike="" if season.alike is None else titles[season.alike.path],
        anchor=_anchor(season, titles),
        older=tuple(_older(standing)),
        software=f"trialreel {version('trialreel')}",
    )


def _tables(season: Season) -> Iterator[SideTable]:
    if season.with_results:
        yield stated_table(season.likenesses, season.units)
        yield from side_tables(season.figures, season.units)


def _anchor(season: Season, titles: dict[Path, str]) -> str:
    """The trial at whose steps engine speeds are equal, where any has steps both ways."""
    one = season.anchor
    return titles[one.path] if one and one.side and one.side.both_ways() else ""


def address_of(path: Path, folder: Path) -> str:
    """A file as a page in a folder links it: by the way there, whatever letters its name has."""
    return quote(Path(os.path.relpath(path, folder)).as_posix())


def _trial(one: SeasonTrial, title: str, standing: SeriesStanding) -> TrialPart:
    folder = standing.folder.path
    mine = [clip for clip in standing.clips if clip.job.sheet == str(one.path)]
    there = [clip for clip in mine if clip.there]
    letters = Letters()
    report = one.path.with_name("report") / "index.html"
    refused = [row for row in standing.refused if row.sheet == str(one.path)]
    warned = (text for clip in there if clip.report for text in clip.report.warnings)
    return TrialPart(
        place=f"trial-{standing.sheets.index(one.path) + 1}",
        title=title,
        told=_told(one, folder.parent),
        report=address_of(report, folder) if report.is_file() else "",
        clips=tuple(_rows(there, standing, letters)),
        missing=_missing(len(mine) - len(there), refused),
        notes=letters.notes(),
        warnings=tuple(dict.fromkeys(one_line(text) for text in warned)),
        trouble=plain(one.trouble, folder.parent),
    )


def _missing(count: int, refused: Sequence[Refused]) -> str:
    """How many clips of a trial are not there; nobody knows how many a bad sheet has."""
    if not all(row.clip for row in refused):
        return "Its clips are"
    count += len(refused)
    return f"{many(count, 'clip')} {'is' if count == 1 else 'are'}" if count else ""


def _told(one: SeasonTrial, base: Path) -> str:
    """Day, place, boat, and where its sheet lies."""
    day = "" if one.day is None else f"{one.day.day} {one.day:%B %Y}"
    stated = () if one.sheet is None else (one.sheet.conditions.place, one.sheet.boat.name)
    parts = (day, *stated, seen_from(one.path, base))
    return one_line(" · ".join(part for part in parts if part))


def _rows(
    there: Sequence[Standing], standing: SeriesStanding, letters: Letters
) -> Iterator[ClipRow]:
    said = [_said(one) for one in there]
    for one, sentence in zip(there, said, strict=True):
        report = one.report
        assert report is not None
        often = said.count(sentence) > 1
        film = standing.folder.clips / one.job.output_names[0]
        audit = report.audit
        page = "" if audit is None or not audit.page else audit.page
        yield ClipRow(
            place=place_of(one),
            name=one_line(one.job.clip),
            address=address_of(film, standing.folder.path),
            variant=one.job.variant.name,
            length=clock_text(one.length_s),
            size=megabytes(one.size_bytes),
            took=clock_text(report.seconds),
            made=one.stand,
            verdict="" if audit is None else audit.outcome,
            audit=address_of(standing.folder.clips / page, standing.folder.path) if page else "",
            sentence="" if often else sentence,
            letter=letters.of(sentence) if often else "",
        )


def _said(one: Standing) -> str:
    if one.report is None or one.report.audit is None:
        return ""
    return one_line(one.report.audit.sentence)


def _when(ended_utc: str) -> str:
    return f"{ended_utc[:10]} at {ended_utc[11:16]} UTC" if ended_utc else ""


def _outcome(standing: SeriesStanding) -> str:
    """In the audit page's words: whether all is there and agrees."""
    wrong = any(one.disagrees for one in standing.clips)
    if wrong or standing.refused or any(one.stand == "failed" for one in standing.clips):
        return "disagrees"
    return "agrees" if all(one.there for one in standing.clips) else "cannot-say"


def _line(standing: SeriesStanding) -> str:
    planned = len(standing.clips) + len(standing.refused)
    there = sum(one.there for one in standing.clips)
    failed = len(standing.refused) + sum(one.stand == "failed" for one in standing.clips)
    left = planned - there - failed
    wrong = sum(one.disagrees for one in standing.clips)
    told = [f"{there:,} of {many(planned, 'clip')} {'is' if there == 1 else 'are'} there"]
    if failed:
        told.append(f"{failed:,} failed")
    if left:
        told.append(f"{left:,} not made yet")
    line = listed(told)
    if wrong:
        line += f"; {wrong:,} {'disagrees' if wrong == 1 else 'disagree'} with the logs"
    return f"{line}."


def _counts(standing: SeriesStanding) -> tuple[tuple[str, str], ...]:
    """How much there is of everything, as pairs of words and number."""
    there = [one for one in standing.clips if one.there]
    stands = [one.stand for one in standing.clips]
    verdicts = [one.report.audit.outcome for one in there if one.report and one.report.audit]
    known = [one.length_s for one in there if math.isfinite(one.length_s)]
    pairs = [
        ("trials", f"{len(standing.sheets):,}"),
        ("made by the last run", f"{stands.count('made'):,}"),
        ("up to date before", f"{stands.count('up to date'):,}"),
        ("failed", f"{stands.count('failed') + len(standing.refused):,}"),
        *((f"audits: {word}", f"{verdicts.count(word):,}")
          for word in ("agrees", "disagrees", "cannot say") if word in verdicts),
        ("film", clock_text(math.fsum(known))),
        ("size", size_text(sum(one.size_bytes for one in there))),
        ("jobs took", clock_text(math.fsum(one.report.seconds for one in there if one.report))),
    ]  # fmt: skip
    return tuple(pairs)


def _older(standing: SeriesStanding) -> Iterator[tuple[str, str, str]]:
    for film in standing.older:
        size = film.stat().st_size
        yield address_of(film, standing.folder.path), one_line(film.name), megabytes(size)
