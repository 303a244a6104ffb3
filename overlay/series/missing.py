"""What of a series is not there, and why: clips that share a sheet and a reason stand together."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from overlay.report.words import one_line
from overlay.series.amounts import clock_text
from overlay.series.job import SHORT
from overlay.series.outcome import JobReport
from overlay.series.standing import SeriesStanding, Standing

GONE = "It was made, and its files are no longer there as they were."
NOT_MADE = "Nothing was tried yet."
NOT_AUDITED = "It is made; the audit that is asked for since then is still to come."


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """Clips that are not there for one and the same reason; each by its place and name, and what
    was done for it in vain."""

    what: str
    names: tuple[tuple[str, str, str], ...]
    sentence: str


def place_of(one: Standing) -> str:
    """Where a clip stands on the page."""
    return f"job-{one.job.key[:SHORT]}"


def failed_of(standing: SeriesStanding) -> tuple[Missing, ...]:
    """What failed, with the reason: clips that share a sheet and a reason stand together."""
    base = standing.folder.path.parent
    rows = [
        ("failed", one.sheet, plain(one.sentence, base), f"refused-{number}", one.name, "")
        for number, one in enumerate(standing.refused, 1)
    ]  # fmt: skip
    rows += [
        (one.report.outcome, one.job.sheet, plain(one.report.sentence, base), place_of(one),
         one.job.name, _tried(one.report))
        for one in standing.clips
        if one.stand == "failed" and one.report is not None
    ]  # fmt: skip
    return tuple(_together(rows))


def _tried(report: JobReport) -> str:
    often = "" if report.attempts < 2 else f"tried {report.attempts} times, "
    return f"{often}ended after {clock_text(report.seconds)}" if report.seconds else ""


def waiting_of(standing: SeriesStanding) -> tuple[Missing, ...]:
    """What was not made yet, or is gone."""
    words = {"not made": NOT_MADE, "not audited": NOT_AUDITED, "gone": GONE}
    return tuple(
        _together(
            ("not made yet", one.job.sheet, words[one.stand], place_of(one), one.job.name, "")
            for one in standing.clips
            if one.stand in words
        )
    )


def _together(rows: Iterable[tuple[str, str, str, str, str, str]]) -> Iterator[Missing]:
    groups: dict[tuple[str, str, str], list[tuple[str, str, str]]] = {}
    for what, sheet, sentence, place, name, tried in rows:
        groups.setdefault((what, sheet, sentence), []).append((place, one_line(name), tried))
    for (what, _, sentence), names in groups.items():
        yield Missing(what=what, names=tuple(names), sentence=sentence)


def plain(sentence: str, base: Path) -> str:
    """A sentence that names files from where the series lies, not from this machine's root."""
    return one_line(sentence.replace(f"{base}{os.sep}", ""))
