"""Faults of what has no digits: needles, ends of bars, hulls, the neatline's filling."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
from false_clips import Take, audited, faces, film, told
from false_faces import Lie, leaning, lying, part_of, sweep
from fault_ground import Ground
from fault_study import Fared, NoFaultError, Row

from overlay.audit.verdict import Pair
from overlay.graphics.instruments.bar import STEPS_A_PX, Bar
from overlay.graphics.instruments.base import Look, Part
from overlay.graphics.instruments.dial import Dial
from overlay.graphics.instruments.inclinometer import HIGHEST, LOWEST, STEPS_A_RAD
from overlay.graphics.instruments.neatline import Strip

MARKS = {
    "needle": ("launch", "engine", "value"),
    "bar": ("bars", "speed", "value"),
    "hull": ("launch", "bow", "value"),
    "neatline": ("launch", "time", "along"),
    "twin bar": ("twin", "engines", "starboard"),
    "twin dial": ("two dials", "engines", "port"),
}
"""Faceplate, instrument and item of each sort of mark."""

PICTURE: set[Pair] = {("picture", "ledger"), ("picture", "logs")}


def _middle(part: Part) -> float:
    """The step in the middle of its scale."""
    if isinstance(part, Dial):
        return 0.0
    if isinstance(part, Bar):
        return (part._bar.left_px + part._bar.right_px) / 2 * STEPS_A_PX
    if isinstance(part, Strip):
        return (part._at.axis.zero_px + part._at.axis.end_px) / 2
    return (HIGHEST + LOWEST) / 2 * STEPS_A_RAD


def _mark(look: Look | None) -> int | None:
    if look is None or look.key is None:
        return None
    # A part with a numeral has a key of text, mark and what is held.
    return look.key if isinstance(look.key, int) else look.key[1]  # type: ignore[index]  # see above


def _aside(part: Part, share: float) -> Lie:
    """The mark stands aside by a share of its sweep, towards the middle, so that it has room."""
    steps, middle = round(share * sweep(part)), _middle(part)

    def lie(_: float, look: Look | None) -> Look | None:
        mark = _mark(look)
        if look is None or mark is None:
            return look
        return leaning(part, look, steps if mark < middle else -steps)

    return lie


def _gone(_: float, look: Look | None) -> Look | None:
    """The mark is not there."""
    if look is None or look.key is None:
        return look
    if isinstance(look.key, int):
        return replace(look, key=None)
    text, _, held = look.key  # type: ignore[misc]  # as in `_mark`
    return replace(look, key=(text, None, held))


def mark_fault(
    rng: np.random.Generator, ground: Ground, *, share: float | None, sort: str = ""
) -> Fared:
    """A mark stands beside its value, or nowhere, on all of a clip; its number is right."""
    name, instrument, item = MARKS[sort or str(rng.choice(list(MARKS)))]
    take = ground.take(rng, name, within=(2.0, 16.0), length_s=2.0)
    plan = take.plan()
    part = part_of(plan, instrument, item)
    if _mark(part.look(take.start_utc_s + take.length_s / 2)) is None:
        raise NoFaultError
    lying(plan, part, _gone if share is None else _aside(part, share))
    piece = audited(film(take, faces(take, plan), ground.path()), take.crew)
    mine = [
        one for one in piece.disagreements
        if (one.sort, one.instrument, one.item) == ("pointer", instrument, f"{item}, mark")
    ]  # fmt: skip
    beside = [one for one in piece.disagreements if one not in mine]
    on = {number for one in mine for number in range(one.frames[0], one.frames[1] + 1)}
    whole = on == set(range(*piece.frames))
    said = [one.sentence for one in (*beside, *mine)][:2]
    film_name = take.footage.path.stem
    return Fared(
        found=bool(mine),
        pairs={pair for one in mine for pair in one.pairs} == PICTURE,
        frames=whole,
        beside=len(beside),
        told=""
        if whole and not beside
        else f"{name}, {instrument}, {film_name}, "
        f"{len(on)} of {piece.frames[1]}: {said} {_shown(take, instrument)}",
    )


def _shown(take: Take, instrument: str) -> list[str]:
    """The numbers of an instrument at the beginning of a take."""
    shown = told(take.plan(), take.start_utc_s + 0.01)
    return [one.text for one in shown if one.instrument == instrument]


def mark_rows() -> list[Row]:
    """The table's rows: every sort by 2 % of its sweep, and all of them by less and by more."""
    rows = [
        Row(name=f"{sort} off by 2 %", run=partial(mark_fault, share=0.02, sort=sort), trials=7,
            goal=None, short=1 if sort == "needle" else 0)
        for sort in MARKS
    ]  # fmt: skip
    rows += [
        Row(name=f"marks off by {per_cent} %", run=partial(mark_fault, share=per_cent / 100),
            trials=10, goal=None)
        for per_cent in (1, 3, 5)
    ]  # fmt: skip
    rows.append(Row(name="marks gone", run=partial(mark_fault, share=None), trials=8, goal=None))
    return rows
