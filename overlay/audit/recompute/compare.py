"""A ledger held against the logs: every number that a clip showed, worked out anew."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.expected import Expected, Finding, FindingKind, clock_text
from overlay.audit.recompute.facts import facts_against_sheet, sides_told
from overlay.audit.recompute.grid import EDGE_S
from overlay.audit.recompute.results.run_findings import run_findings
from overlay.audit.recompute.shows import shows_of
from overlay.audit.recompute.side import LogSide
from overlay.audit.recompute.units import is_unit, unit

if TYPE_CHECKING:
    import pandas as pd

    from overlay.ledger import Ledger

VALUE_SHARE, VALUE_LEAST = 1e-9, 1e-9
"""A value may differ by so much of itself, or in SI (measured: 4e-15 over the demo's launch)."""

FRAME_TIME_S = 2e-6
"""The UTC of a frame is worked out in float64, which resolves it to a quarter of a microsecond."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NotHeld:
    """An item that could not be held against the logs, and why."""

    instrument: str
    item: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerHeld:
    """What came of holding a ledger against the logs.

    Parameters
    ----------
    findings
        What the logs do not bear out.
    held
        By instrument and item, how many distinct numbers were worked out anew.
    not_held
        What was not, each with its reason; none of it is agreement.
    notes
        What was taken from the ledger for want of a word in the sheet.
    """

    findings: tuple[Finding, ...]
    held: dict[tuple[str, str], int]
    not_held: tuple[NotHeld, ...]
    notes: tuple[str, ...] = ()


def compare_ledger(
    sheet_path: Path, ledger: Ledger, results: Mapping[str, Any] | None = None
) -> LedgerHeld:
    """Hold a ledger against the logs of a sheet.

    Parameters
    ----------
    results
        The document of results, which says over which stretches passes were taken.

    Raises
    ------
    CannotRecompute
        Where the sheet is not understood, or the ledger does not say which run it shows.
    """
    side = LogSide.open(sheet_path, ledger.facts, shows_of(ledger.rows), results)
    return compare_with(side, ledger)


def compare_with(side: LogSide, ledger: Ledger) -> LedgerHeld:
    """Hold a ledger against logs that were read."""
    findings, notes = facts_against_sheet(side)
    findings += sides_told(side)
    rows = ledger.rows
    findings += list(frame_times(side, rows))
    findings += list(run_findings(side, side.figures))
    held: dict[tuple[str, str], int] = {}
    not_held = []
    if why := side.figures.why.get(""):
        not_held.append(NotHeld(instrument="", item="", why=f"the start of the run: {why}"))
    frames = rows.drop_duplicates("frame")
    for (instrument, item), part in rows.groupby(["instrument", "item"], observed=True):
        place = (str(instrument), str(item))
        try:
            expected = side.expected(*place, part["t_utc_s"].to_numpy())
            findings += list(_rows(expected, part))
            findings += list(_there(side, place, part, frames))
            held[place] = int(part["t_shown_s"].nunique())
        except CannotRecompute as error:
            not_held.append(NotHeld(instrument=place[0], item=place[1], why=error.why))
    return LedgerHeld(
        findings=tuple(findings), held=held, not_held=tuple(not_held), notes=tuple(notes)
    )


def frame_times(side: LogSide, rows: pd.DataFrame) -> Iterator[Finding]:
    """Frames whose UTC is not what the tie makes of their time in the footage."""
    tie = side.facts.get("tie")
    if tie is None or rows.empty:
        return
    slower = _slowness(side)
    frames = rows.drop_duplicates("frame")
    line = float(tie["offset_s"]) + float(tie["rate"]) / slower * frames["t_footage_s"].to_numpy()
    off = frames["t_utc_s"].to_numpy() - line
    bad = np.flatnonzero(~(np.abs(off) <= FRAME_TIME_S))
    if bad.size:
        numbers = frames["frame"].to_numpy()[bad]
        worst = float(off[bad][np.argmax(np.abs(off[bad]))])
        yield Finding(
            kind="frame time",
            told=f"{bad.size} frames have a UTC that their tie does not give, by {worst:.6f} s at "
            "the most",
            found=clock_text(float(frames["t_utc_s"].to_numpy()[bad[0]])),
            wanted=clock_text(float(line[bad[0]])),
            t_utc_s=float(frames["t_utc_s"].to_numpy()[bad[0]]),
            frames=(int(numbers[0]), int(numbers[-1]), int(bad.size)),
        )


def _slowness(side: LogSide) -> float:
    """How many seconds of film show one of life."""
    return side.sheet.slow_motion.get(str(side.facts.get("recording", "")), 1.0)


def _rows(expected: Expected, part: pd.DataFrame) -> Iterator[Finding]:
    """What is wrong with the rows of one item, one finding for each number and sort of fault."""
    texts, values = part["text"].tolist(), part["value_si"].to_numpy(dtype=np.float64)
    instants = part["t_shown_s"].to_numpy()
    wrong: dict[tuple[FindingKind, float, str], list[int]] = {}
    apart = np.abs(instants - expected.t_shown_s) > EDGE_S
    for row, text in enumerate(texts):
        kind: FindingKind | None = None
        if text not in expected.texts[row]:
            kind = "text"
        elif expected.on_edge[row]:
            continue
        elif apart[row]:
            kind = "instant"
        elif _apart(values[row], float(expected.value_si[row])):
            kind = "value"
        if kind is not None:
            wrong.setdefault((kind, instants[row], text), []).append(row)
    for (kind, _, _), places in wrong.items():
        yield _finding(kind, expected, part, places)


def _apart(found: float, wanted: float) -> bool:
    if math.isnan(found) or math.isnan(wanted):
        return math.isnan(found) != math.isnan(wanted)
    return abs(found - wanted) > max(VALUE_SHARE * abs(wanted), VALUE_LEAST)


_SAID: dict[FindingKind, Callable[[str, str], str]] = {
    "text": lambda found, wanted: f"shows {found}, and by the logs ought to show {wanted}",
    "value": lambda found, wanted: f"stands for {found}, and the logs have {wanted}",
    "instant": lambda found, wanted: f"is that of {found}, and ought to be that of {wanted}",
}


def _finding(
    kind: FindingKind, expected: Expected, part: pd.DataFrame, places: list[int]
) -> Finding:
    row = part.iloc[places[0]]
    first = places[0]
    if kind == "text":
        found, wanted = str(row["text"]), " or ".join(expected.texts[first]) or "nothing yet"
    elif kind == "value":
        found, wanted = (
            _in_unit(value, expected.unit) for value in (row["value_si"], expected.value_si[first])
        )
    else:
        found, wanted = clock_text(row["t_shown_s"]), clock_text(expected.t_shown_s[first])
    frames = part["frame"].to_numpy()[places]
    name = (
        expected.instrument
        if expected.item == "value"
        else f"{expected.instrument}, {expected.item}"
    )
    return Finding(
        kind=kind,
        told=f"{name} {_SAID[kind](found, wanted)}",
        found=found,
        wanted=wanted,
        instrument=expected.instrument,
        item=expected.item,
        t_utc_s=float(row["t_utc_s"]),
        t_shown_s=float(expected.t_shown_s[first]),
        frames=(int(frames[0]), int(frames[-1]), len(places)),
        channel=expected.channel,
        log=expected.log,
    )


def _in_unit(value_si: float, sign: str) -> str:
    """A value as it is shown, with more digits than are."""
    if not math.isfinite(value_si):
        return "no value"
    value = float(unit(sign).from_si(value_si)) if is_unit(sign) else value_si
    return f"{value:.9g} {sign}".rstrip()


def _there(
    side: LogSide, place: tuple[str, str], part: pd.DataFrame, frames: pd.DataFrame
) -> Iterator[Finding]:
    """Frames on which an item is missing while it ought to be seen, or seen while it ought not."""
    mark = side.run.mark(place[1])
    begins = side.run.from_s if mark is None else max(side.run.from_s, mark.t_utc_s)
    t = frames["t_utc_s"].to_numpy()
    sure = (t >= begins + EDGE_S) & (t < side.run.to_s - EDGE_S)
    maybe = (t >= begins - EDGE_S) & (t < side.run.to_s + EDGE_S)
    numbers = frames["frame"].to_numpy()
    seen = np.isin(numbers, part["frame"].to_numpy())
    for kind, bad, told in (
        ("missing", sure & ~seen, "is missing where it ought to be seen"),
        ("too many", seen & ~maybe, "is seen where it ought not to be"),
    ):
        where = np.flatnonzero(bad)
        if where.size:
            yield Finding(
                kind="missing" if kind == "missing" else "too many",
                told=f"{place[0]}, {place[1]} {told}, on {where.size} frames",
                found=_spans(numbers[where].tolist()),
                wanted="",
                instrument=place[0],
                item=place[1],
                t_utc_s=float(t[where[0]]),
                frames=(int(numbers[where[0]]), int(numbers[where[-1]]), int(where.size)),
            )


def _spans(numbers: Iterable[int]) -> str:
    """Frames as stretches: `12 to 40, 55`."""
    spans: list[list[int]] = []
    for number in numbers:
        if spans and number == spans[-1][1] + 1:
            spans[-1][1] = number
        else:
            spans.append([number, number])
    return ", ".join(f"{a} to {b}" if a != b else f"{a}" for a, b in spans[:5])
