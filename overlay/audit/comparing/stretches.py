"""From frame by frame to stretches: what the report lists, draws and counts."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import TYPE_CHECKING, cast

import numpy as np

from overlay.audit.verdict import PAIRS, Counts, Disagreement, LogRow, State, Strip

if TYPE_CHECKING:
    from overlay.audit.comparing.compared import Compared

LAW_S = 0.5
"""A value follows from rows as far away as this; where one of them is wrong, disagreement begins so
much before it."""

RowsAround = Callable[[str, str, float], tuple[LogRow, ...]]
"""The rows of the log that an instrument's item follows from, around an instant of UTC."""


def disagreements_of(one: Compared, rows_around: RowsAround) -> tuple[Disagreement, ...]:
    """Its stretches of disagreement, each of the frames that were looked at one after another and
    on which the same pairs disagree."""
    return tuple(_disagreement(one, first, last, rows_around) for first, last in _stretches(one))


def _stretches(one: Compared) -> Iterator[tuple[int, int]]:
    """First and last row of each stretch."""
    if not one.frames.size:
        return
    kinds = one.wrong @ np.array([1, 2, 4])
    edges = [0, *(np.flatnonzero(np.diff(kinds)) + 1).tolist(), kinds.size]
    yield from ((first, stop - 1) for first, stop in pairwise(edges) if kinds[first])


def _disagreement(one: Compared, first: int, last: int, rows_around: RowsAround) -> Disagreement:
    t_utc_s, last_s = float(one.t_utc_s[first]), float(one.t_utc_s[last])
    looked_up_s = min((t_utc_s + last_s) / 2, t_utc_s + LAW_S)
    pairs = tuple(pair for pair, wrong in zip(PAIRS, one.wrong[first], strict=True) if wrong)
    left, top, width, height = (int(edge) for edge in one.boxes_px[first])
    of_logs = any("logs" in pair for pair in pairs)
    return Disagreement(
        sort=one.sort,
        instrument=one.instrument,
        item=one.item,
        frames=(int(one.frames[first]), int(one.frames[last])),
        t_film_s=float(one.t_film_s[first]),
        t_utc_s=t_utc_s,
        read=one.read[first],
        ledger=one.ledger[first],
        logs=one.logs[first],
        pairs=pairs,
        sentence=sentence(one, first, last),
        box_px=(left, top, width, height),
        rows=rows_around(one.instrument, one.item, looked_up_s) if of_logs else (),
    )


def sentence(one: Compared, first: int, last: int) -> str:
    """A stretch of disagreement in words.

    ::

        speed reads 39.4 at 7.033 s (frames 211 to 218); ledger and logs have 38.4.
    """
    what = one.instrument if one.item in ("", "value") else f"{one.instrument}, {one.item},"
    here, there = int(one.frames[first]), int(one.frames[last])
    frames = f"frame {here}" if here == there else f"frames {here} to {there}"
    read, ledger, logs = one.read[first], one.ledger[first], one.logs[first]
    if read is None:
        saw = f"{what} cannot be read"
    else:
        saw = f"{what} reads {read}" if read else f"{what} shows nothing"
    if ledger == logs:
        have = f"ledger and logs have {_told(ledger)}"
    else:
        sides = [("the ledger has", ledger), ("the logs support", logs)]
        have = " and ".join(f"{verb} {_told(text)}" for verb, text in sides if text is not None)
    return f"{saw} at {one.t_film_s[first]:.3f} s ({frames}); {have}."


def _told(text: str | None) -> str:
    return text or "nothing"


def strip_of(one: Compared, span_s: tuple[float, float]) -> Strip:
    """How it fares over a piece of the film, for the time line."""
    stretches: list[tuple[float, float, State]] = []
    if not one.frames.size:
        return Strip(instrument=one.instrument, item=one.item, stretches=((*span_s, "unseen"),))
    hidden = sum(text is None for text in one.read)
    states, times = one.states, one.t_film_s
    steps = np.diff(times)
    step_s = float(np.median(steps)) if steps.size else span_s[1] - span_s[0]
    if times[0] > span_s[0] + 1e-9:
        stretches.append((span_s[0], float(times[0]), "unseen"))
    # Where it went out in between, the next frame that was looked at is a long way off.
    ends = np.minimum(np.append(times[1:], span_s[1]), times + 1.5 * step_s)
    for row, end in enumerate(ends.tolist()):
        begin, state = float(times[row]), cast("State", states[row])
        if stretches and stretches[-1][1] < begin - 1e-9:
            stretches.append((stretches[-1][1], begin, "unseen"))
        if stretches and stretches[-1][2] == state:
            stretches[-1] = (stretches[-1][0], end, state)
        else:
            stretches.append((begin, end, state))
    if stretches[-1][1] < span_s[1] - 1e-9:
        stretches.append((stretches[-1][1], span_s[1], "unseen"))
    return Strip(
        instrument=one.instrument,
        item=one.item,
        stretches=tuple(stretches),
        looks=one.frames.size,
        hidden=hidden,
    )


def counts_of(one: Compared) -> Counts:
    """How much of it was looked at; frames are counted elsewhere."""
    seen = np.array([text is not None for text in one.read], np.bool_)
    held = np.array([text is not None for text in one.logs], np.bool_)
    return Counts(
        characters=int(one.characters.sum()),
        unread=int(one.unread.sum()),
        values=int(one.frames.size),
        held=int((seen & held).sum()),
    )
