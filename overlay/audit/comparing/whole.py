"""Everything that was read of a piece of film, held against its ledger and the logs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from overlay.audit.comparing.compared import Compared, Floats, Frames, to_be_seen
from overlay.audit.comparing.early import early
from overlay.audit.comparing.labels import compare_still
from overlay.audit.comparing.numbers import NOTHING, compare_field
from overlay.audit.comparing.pointers import compare_pointer
from overlay.audit.reading import same_picture
from overlay.audit.recompute import CannotRecompute
from sync.errors import UnitError
from sync.units import from_si, unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from overlay.audit.reading import Fonts, Readings
    from overlay.audit.recompute import Expected, LogSide
    from overlay.ledger import Field, Layout, Pointer

ALONG = "along"
"""The pointer that shows how far the run has come, which has no row in the ledger."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sides:
    """What a picture is held against.

    `logs` is None where nothing could be worked out anew, and `why` says why.
    """

    facts: Mapping[str, Any]
    rows: pd.DataFrame
    logs: LogSide | None
    why: str = ""

    def expected(self, instrument: str, item: str, t_utc_s: Floats) -> tuple[Expected | None, str]:
        """What the logs have of something at instants, or why they cannot say."""
        if self.logs is None:
            return None, self.why
        try:
            return self.logs.expected(instrument, item, t_utc_s), ""
        except CannotRecompute as cause:
            return None, cause.why

    def rows_of(self, instrument: str, item: str) -> pd.DataFrame:
        """The ledger's rows of one thing."""
        rows = self.rows
        return rows[(rows["instrument"] == instrument) & (rows["item"] == item)]


def compare_all(
    found: Readings, layout: Layout, frames: Frames, sides: Sides, fonts: Fonts
) -> Iterator[Compared]:
    """Every field, label and mark of a layout that was looked at."""
    for index, field in enumerate(layout.fields):
        read = _seen(found.texts, "field", index, field, layout, frames)
        yield _field(field, read, frames, sides)
        soon = _too_early(found.texts, index, field, layout, frames)
        if soon.shape[0]:
            yield _field(field, soon, frames, sides)
    for index, place in enumerate(layout.pointers):
        read = _seen(found.pointers, None, index, place, layout, frames)
        if read.shape[0]:
            yield _pointer(place, read, frames, sides)
    for index, still in enumerate(layout.stills):
        read = _seen(found.texts, "still", index, still, layout, frames)
        if read.shape[0]:
            unit = _unit(still.instrument, still.text, sides)
            yield compare_still(
                still, read, frames, _as_seen(fonts.path(still.font), still.size_px), unit
            )


def _seen(
    table: pd.DataFrame, kind: str | None, index: int, place: Any, layout: Layout, frames: Frames
) -> pd.DataFrame:
    """The readings of one place on frames of the piece on which it is to be seen."""
    mine = table[table["index"] == index]
    if kind is not None:
        mine = mine[mine["kind"] == kind]
    mine = mine[mine["frame"].isin(frames.number)]
    at = frames.rows(mine["frame"])
    return mine[to_be_seen(place, layout, frames.t_utc_s[at])].sort_values("frame")


def _too_early(
    texts: pd.DataFrame, index: int, field: Field, layout: Layout, frames: Frames
) -> pd.DataFrame:
    """Numbers that are read before they ought to be there; what is footage there reads as none."""
    mine = texts[(texts["index"] == index) & (texts["kind"] == "field") & texts["legible"]]
    mine = mine[mine["frame"].isin(frames.number) & (mine["text"] != "")].sort_values("frame")
    at = frames.rows(mine["frame"])
    slack_s = frames.slack * _step_s(frames)
    return mine[early(field, layout, frames.t_utc_s[at], slack_s)]


def _step_s(frames: Frames) -> float:
    """How long a frame of the render is."""
    t = frames.render_t_utc_s
    return float(np.median(np.diff(t))) if t.size > 1 else 0.0


def _field(field: Field, read: pd.DataFrame, frames: Frames, sides: Sides) -> Compared:
    logs: list[tuple[str, ...] | None] = [None] * read.shape[0]
    why = ""
    for shown in frames.near(frames.rows(read["frame"])):
        t_utc_s = frames.render_t_utc_s[shown]
        expected, why = sides.expected(field.instrument, field.item, t_utc_s)
        if expected is not None:
            texts = [text or (NOTHING,) for text in expected.texts]
            logs = [(*(one or ()), *two) for one, two in zip(logs, texts, strict=True)]
    rows = sides.rows_of(field.instrument, field.item)
    return compare_field(field, read, rows, frames, logs, why_unheld=why)


def _pointer(place: Pointer, read: pd.DataFrame, frames: Frames, sides: Sides) -> Compared:
    at = frames.rows(read["frame"])
    expected, why = sides.expected(place.instrument, place.item, frames.t_utc_s[at])
    theirs = np.full(at.size, np.nan) if expected is None else expected.value
    if place.item == ALONG:
        ours = _along(sides.facts, frames.t_utc_s[at])
    else:
        rows = sides.rows_of(place.instrument, place.item).drop_duplicates("frame")
        values = rows.set_index("frame")["value_si"].reindex(frames.ledger_frame[at]).to_numpy()
        ours = np.asarray([from_si(one, place.unit, place.quantity) for one in values.tolist()])
    return compare_pointer(place, read, frames, ours, theirs, why_unheld=why)


def _along(facts: Mapping[str, Any], t_utc_s: Floats) -> Floats:
    """How far the ledger's run has come; NaN before it begins, and no further than its stop."""
    run = facts["run"]
    now, axis = np.minimum(t_utc_s, run["stop_utc_s"]), run.get("axis")
    if axis is None:
        far = now - run["start_utc_s"]
    else:
        value = np.asarray(axis["value"], np.float64)
        far = np.interp(now, np.asarray(axis["t_utc_s"], np.float64), value - value[0])
    along: Floats = np.where(t_utc_s >= run["start_utc_s"], far, np.nan)
    return along


def _unit(instrument: str, text: str, sides: Sides) -> str | None:
    """The unit that the sheet asks for in the place of one that the ledger has; None where a
    label is none, or that cannot be said."""
    rows = sides.rows[sides.rows["instrument"] == instrument]
    mine = rows[rows["unit"] == text]
    if mine.empty and not rows.empty and _is_unit(text):
        mine = rows  # a unit, and not that of any number here
    if mine.empty:
        return None
    first = mine.iloc[0]
    expected, _ = sides.expected(instrument, str(first["item"]), np.array([first["t_utc_s"]]))
    return None if expected is None else expected.unit or None


def _is_unit(text: str) -> bool:
    """Whether a label is a unit as it is written on the picture; `S` for starboard is none."""
    try:
        return unit_of(text).sign == text
    except UnitError:
        return False


@lru_cache(maxsize=64)
def _as_seen(font: Path, size_px: int) -> Callable[[str], str]:
    """Letters that look the same in a font, made one."""
    alike = str.maketrans(same_picture(font, size_px))
    return lambda text: text.translate(alike)
