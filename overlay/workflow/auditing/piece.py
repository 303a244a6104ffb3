"""A piece of film that shows one render: read, and held against its ledger and the logs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

import numpy as np

from overlay.audit.comparing import (
    Compared,
    Frames,
    Sides,
    compare_all,
    counts_of,
    disagreements_of,
    strip_of,
)
from overlay.audit.reading import Fonts, Placement
from overlay.audit.recompute import compare_with
from overlay.audit.verdict import (
    Counts,
    Disagreement,
    LogRow,
    Piece,
    TieCheck,
    Unheld,
)
from overlay.workflow.auditing.dash import dash_notes
from overlay.workflow.auditing.inputs import inputs_of
from overlay.workflow.auditing.job import AS_RENDERED, Job
from overlay.workflow.auditing.labels import wrong_labels
from overlay.workflow.auditing.rendered import Rendered
from overlay.workflow.auditing.whole_ledger import left_out

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from overlay.audit.reading import Readings
    from overlay.audit.recompute import Finding
    from overlay.trial import Material


ROWS_EACH_WAY = 6
"""Of a log, shown around what disagrees: as many as a law looks at, ten times a second."""

MOST_HEADING = 2000
"""Bytes of a heading that are told."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Watched:
    """What was read on a piece of film.

    Parameters
    ----------
    frames
        All of it.
    place
        Where the render's picture lies on the film's.
    more
        What disagrees in another way.
    """

    name: str
    found: Readings
    frames: Frames
    span_s: tuple[float, float]
    place: Placement = AS_RENDERED
    more: tuple[Disagreement, ...] = ()


def piece_of(watched: Watched, render: Rendered, job: Job, tie_check: TieCheck) -> Piece:
    """What is to be said of a piece of film."""
    frames, span_s = watched.frames, watched.span_s
    fonts = Fonts(render.layout.fonts, _font_folders(job.material))
    compared = tuple(compare_all(watched.found, render.layout, frames, render.sides, fonts))
    rows_around = _rows_around(render.sides)
    seen = [
        _on_film(stretch, watched.place)
        for one in compared
        for stretch in disagreements_of(one, rows_around)
    ]
    others, loose, notes = _findings(render, frames, seen)
    counts = sum((counts_of(one) for one in compared), Counts())
    return Piece(
        name=watched.name,
        clip=str(render.facts.get("clip", "")),
        recording=str(render.facts.get("recording", "")),
        ledger_path=render.ledger_path,
        frames=(int(frames.number[0]), int(frames.number[-1]) + 1),
        span_s=span_s,
        counts=counts + Counts(frames=frames.number.size, frames_read=watched.found.frames),
        strips=tuple(strip_of(one, span_s) for one in compared if one.frames.size),
        disagreements=tuple(
            sorted(
                (*watched.more, *wrong_labels(render, frames, job.material), *others, *seen),
                key=lambda one: one.frames,
            )
        ),
        unheld=tuple(dict.fromkeys((*_unheld(compared), *loose, *left_out(render)))),
        inputs=inputs_of(render.facts, job.material, job.ties),
        tie_check=tie_check,
        notes=(*notes, *dash_notes(render.facts, render.ledger.rows, job.material)),
    )


def _on_film(one: Disagreement, place: Placement) -> Disagreement:
    """With its box where it stands on the film's picture."""
    if one.box_px is None:
        return one
    left, top, width, height = one.box_px
    box_px = (
        round(place.scale_x * left + place.left_px),
        round(place.scale_y * top + place.top_px),
        max(1, round(place.scale_x * width)),
        max(1, round(place.scale_y * height)),
    )
    return replace(one, box_px=box_px)


def _font_folders(material: Material) -> tuple[Path, ...]:
    """Where a theme of somebody's own may have its fonts."""
    return (material.folder, *(path for path in material.folder.glob("*") if path.is_dir()))


def _unheld(compared: Sequence[Compared]) -> list[Unheld]:
    return [
        Unheld(what=_named(one.instrument, one.item), why=one.why_unheld)
        for one in compared
        if one.why_unheld and one.frames.size
    ]


def _named(instrument: str, item: str) -> str:
    """One thing on the picture, as a list calls it."""
    named = instrument if item in ("value", "") else f"{instrument}, {item}"
    return named or item


def _rows_around(sides: Sides) -> Callable[[str, str, float], tuple[LogRow, ...]]:
    """The log's own rows around what an item shows at an instant, its heading first."""

    def rows(instrument: str, item: str, t_utc_s: float) -> tuple[LogRow, ...]:
        side = sides.logs
        shows = None if side is None else side.shows.get((instrument, item.removesuffix(", mark")))
        if side is None or shows is None or not shows.channel:
            return ()
        around = side.rows_around(shows.channel, t_utc_s, ROWS_EACH_WAY)
        if not around:
            return ()
        nearest = min(around, key=lambda one: abs(one.t_utc_s - t_utc_s))
        told = [
            LogRow(
                log=one.log, line=one.line, text=one.text, t_utc_s=one.t_utc_s,
                nearest=one is nearest,
            )
            for one in around
        ]  # fmt: skip
        return (*_heading(around[0].log, around[0].path), *told)

    return rows


_NO_TABLE = (b"$", b"!", b"<", b"PAR1")
"""What files begin with that have no heading."""


def _heading(log: str, path: Path) -> tuple[LogRow, ...]:
    """The first line of a table, which says what stands in its columns."""
    try:
        with path.open("rb") as file:
            first = file.readline(MOST_HEADING)
    except OSError:
        return ()
    text = first.decode("utf-8-sig", errors="replace").strip()
    if first.startswith(_NO_TABLE) or not any(letter.isalpha() for letter in text):
        return ()
    return (LogRow(log=log, line=1, text=text, t_utc_s=float("nan")),)


def _findings(
    render: Rendered, frames: Frames, seen: Sequence[Disagreement]
) -> tuple[list[Disagreement], list[Unheld], tuple[str, ...]]:
    """What of the ledger the logs do not bear out, less what was seen on the film already, of
    frames that the film shows; what could not be held against them; and what was taken on trust."""
    side = render.sides.logs
    if side is None:
        return [], [], ()
    held = compare_with(side, render.ledger)
    told = {(one.instrument, one.item) for one in seen if ("ledger", "logs") in one.pairs}
    found = []
    for one in held.findings:
        if one.kind == "text" and (one.instrument, one.item) in told:
            continue
        shown = _shown(one, frames)
        if shown.size:
            found.append(_as_disagreement(one, frames, shown))
    loose = [Unheld(what=_named(one.instrument, one.item), why=one.why) for one in held.not_held]
    return found, loose, held.notes


def _shown(one: Finding, frames: Frames) -> NDArray[np.intp]:
    """Which rows of a piece show the frames that a finding is of; all for what is of none."""
    if one.frames is None:
        return np.arange(frames.number.size)
    first, last, _ = one.frames
    return np.flatnonzero((frames.ledger_frame >= first) & (frames.ledger_frame <= last))


_SORTS: Mapping[str, Literal["number", "time", "result"]] = MappingProxyType(
    {"fact": "result", "result": "result", "frame time": "time", "instant": "time"}
)


def _as_disagreement(one: Finding, frames: Frames, shown: NDArray[np.intp]) -> Disagreement:
    first, last = int(shown[0]), int(shown[-1])
    return Disagreement(
        sort=_SORTS.get(one.kind, "number"),
        instrument=one.instrument,
        item=one.item,
        frames=(int(frames.number[first]), int(frames.number[last])),
        t_film_s=float(frames.t_film_s[first]),
        t_utc_s=float("nan") if one.t_utc_s is None else one.t_utc_s,
        read=None,
        ledger=one.found,
        logs=one.wanted,
        pairs=(("ledger", "logs"),),
        sentence=f"{one.told.removesuffix('.')}.",
    )
