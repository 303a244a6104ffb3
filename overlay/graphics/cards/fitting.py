"""Whether a table fits on a card, and what is done where it does not.

It is never made smaller. Columns go in the order that the table states, doubts among them; what
is still too wide is parted, the key columns repeated; what is too high goes over several cards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from overlay.errors import FaceplateError
from overlay.graphics.cards.base import CardBench
from overlay.graphics.cards.facts import DOUBT, CardColumn, CardTable
from overlay.graphics.cards.measures import (
    GAP,
    NOTE_PITCH,
    head_height,
    notes_height,
    row_height,
)

LONGEST_NAME, MOST_LABEL_LINES = 0.3, 3
"""How much of the width is left to the first column where others want room, and into how many
lines what stands there is wrapped then; a longer name is cut."""

MOST_HEAD_LINES = 3
"""How many lines a heading with its unit may take where fewer make the table too wide."""

FEWEST_ROWS = 2
"""Notes stand under the rows of every card as long as they leave room for so many."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """What of a table stands on one card.

    `heads` has the lines over each column, `widths_px` how wide each is, `labels` the lines that
    the first cell of each row takes.
    """

    columns: tuple[CardColumn, ...]
    heads: tuple[tuple[str, ...], ...]
    widths_px: tuple[int, ...]
    rows: tuple[tuple[str, ...], ...]
    labels: tuple[tuple[str, ...], ...]
    marked: tuple[int, ...]
    notes: tuple[str, ...]

    @property
    def head_lines(self) -> int:
        """How many lines the highest heading has."""
        return max((len(lines) for lines in self.heads), default=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Choice:
    """Which columns are shown, and how."""

    places: tuple[int, ...]
    short: bool
    heads: tuple[tuple[str, ...], ...]
    widths_px: tuple[int, ...]
    total_px: int


def fitted(
    table: CardTable, bench: CardBench, size: tuple[int, int]
) -> tuple[tuple[Piece, ...], tuple[str, ...]]:
    """A table in pieces that each fit into a width and a height, and what is said of that.

    Raises
    ------
    FaceplateError
        Where not even one row has room.
    """
    best: tuple[Piece, ...] = ()
    gone: tuple[str, ...] = ()
    for count in range(len(table.order) + 1):
        choice = _choice(table, bench, size[0], table.order[:count])
        if choice.total_px > size[0]:
            continue
        pieces = _pieces(table, bench, size, choice)
        if not best or len(pieces) == 1:
            best, gone = pieces, table.order[:count]
        if len(best) == 1 or count >= table.spare:
            break
    if not best:
        gone = table.order
        choice = _choice(table, bench, size[0], gone)
        keys = sum(place < table.keys for place in choice.places)
        parts = _parted(choice, keys, bench.px(GAP), size[0])
        best = tuple(piece for part in parts for piece in _pieces(table, bench, size, part))
    return best, _remarks(table, gone, len(best))


def _remarks(table: CardTable, gone: Sequence[str], count: int) -> tuple[str, ...]:
    there = {column.text for column in table.columns}
    columns = [name for name in gone if name in there]
    said = []
    if columns:
        said.append(f"left out for want of room, in this order: {', '.join(columns)}")
    if DOUBT in gone and table.short_rows:
        said.append("values stand without their doubts, with the digits that they carry alone")
    if count > 1:
        said.append(f"the table is parted over {count} cards")
    return tuple(said)


def _choice(table: CardTable, bench: CardBench, width: int, gone: Sequence[str]) -> _Choice:
    """Columns less those that are gone, headed in as few lines as make them fit."""
    for lines in range(1, MOST_HEAD_LINES + 1):
        choice = _headed(table, bench, width, gone, lines)
        if choice.total_px <= width:
            break
    return choice


def _headed(
    table: CardTable, bench: CardBench, width: int, gone: Sequence[str], lines: int
) -> _Choice:
    places = tuple(n for n, column in enumerate(table.columns) if column.text not in gone)
    short = DOUBT in gone and bool(table.short_rows)
    rows = table.short_rows if short else table.rows
    script = bench.script("strong")
    heads, widths = [], []
    for place in places:
        cells = max((script.width(row[place]) for row in rows), default=0)
        head = _head(table.columns[place], bench, cells, lines)
        heads.append(head)
        widths.append(max([cells, *(bench.script("text").width(line) for line in head)]))
    if places and places[0] == 0:
        # Names give way first, down to a share of the width.
        room = width - sum(widths[1:]) - bench.px(GAP) * (len(places) - 1)
        widths[0] = min(widths[0], max(room, round(LONGEST_NAME * width)))
    total = sum(widths) + bench.px(GAP) * (len(places) - 1)
    return _Choice(
        places=places, short=short, heads=tuple(heads), widths_px=tuple(widths), total_px=total
    )


def _head(column: CardColumn, bench: CardBench, cells_px: int, most: int) -> tuple[str, ...]:
    """The words over a column and its unit, in at most so many lines, if words allow it."""
    words = column.text.split()
    if column.unit:
        words = [*words[:-1], f"{words[-1]},", column.unit] if words else [column.unit]
    script = bench.script("text")
    # As narrow as the lines allow, but no narrower than the cells are anyway.
    ends = {script.width(" ".join(words[a:b])) for b in range(len(words) + 1) for a in range(b)}
    for width in sorted({max(end, cells_px) for end in ends}):
        found = _lines(words, width, bench)
        if len(found) <= most:
            return found
    return tuple(words)


def _lines(words: Sequence[str], width: int, bench: CardBench) -> tuple[str, ...]:
    """Words in lines of a width; a unit with a line of its own needs no comma before it."""
    lines: list[str] = []
    for word in words:
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and bench.script("text").width(longer) <= width:
            lines[-1] = longer
        else:
            if lines:
                lines[-1] = lines[-1].rstrip(",")
            lines.append(word)
    return tuple(lines)


def _parted(choice: _Choice, keys: int, gap: int, width: int) -> list[_Choice]:
    """The columns in groups that fit, the key columns in each."""
    groups: list[list[int]] = []
    base = sum(choice.widths_px[:keys]) + gap * keys
    used = width + 1
    for n in range(keys, len(choice.places)):
        wide = choice.widths_px[n] + gap
        if used + wide > width + gap:
            groups.append(list(range(keys)))
            used = base
        groups[-1].append(n)
        used += wide
    return [
        _Choice(
            places=tuple(choice.places[n] for n in group),
            short=choice.short,
            heads=tuple(choice.heads[n] for n in group),
            widths_px=tuple(choice.widths_px[n] for n in group),
            total_px=sum(choice.widths_px[n] for n in group) + gap * (len(group) - 1),
        )
        for group in groups
    ]


def _pieces(
    table: CardTable, bench: CardBench, size: tuple[int, int], choice: _Choice
) -> tuple[Piece, ...]:
    """The rows of a choice over as many cards as they need."""
    rows = table.short_rows if choice.short else table.rows
    notes = _notes(table, bench, size[0], choice)
    labels = [_label(row, choice, bench) for row in rows]
    highs = [row_height(bench, lines) for lines in labels]
    room = size[1] - head_height(bench, max((len(lines) for lines in choice.heads), default=0))
    left = room - notes_height(bench, notes)
    apart = left < sum(highs[:FEWEST_ROWS])
    cut = _packed(highs, room if apart else left)

    def piece(kept: Sequence[int]) -> Piece:
        return Piece(
            columns=tuple(table.columns[n] for n in choice.places),
            heads=choice.heads,
            widths_px=choice.widths_px,
            rows=tuple(tuple(rows[row][n] for n in choice.places) for row in kept),
            labels=tuple(labels[row] for row in kept),
            marked=tuple(n for n, row in enumerate(kept) if row in table.marked),
            notes=() if apart else notes,
        )

    pieces = [piece(kept) for kept in cut]
    return tuple([*pieces, *_note_pieces(bench, size, notes)] if apart else pieces)


def _label(row: Sequence[str], choice: _Choice, bench: CardBench) -> tuple[str, ...]:
    """The first cell of a row in lines: names wrap."""
    if not choice.places:
        return ()
    script = bench.script("strong")
    return tuple(script.wrapped(row[choice.places[0]], choice.widths_px[0], MOST_LABEL_LINES))


def _packed(highs: Sequence[int], room: int) -> list[list[int]]:
    """Rows in order, on as few cards as they need, and about as many on each."""
    if max(highs, default=0) > room:
        raise FaceplateError(
            "this picture has no room for a row of the table",
            advice="choose a picture that is less flat, such as 1920x1080 or 1080x1920",
        )

    def filled(most: float) -> list[list[int]]:
        out: list[list[int]] = []
        used = 0
        for row, high in enumerate(highs):
            if not out or used + high > most:
                out.append([])
                used = 0
            out[-1].append(row)
            used += high
        return out

    tight = filled(room)
    alike = filled(min(room, sum(highs) / max(1, len(tight)) + max(highs, default=0) / 2))
    return alike if len(alike) == len(tight) else tight


def _note_pieces(bench: CardBench, size: tuple[int, int], notes: tuple[str, ...]) -> list[Piece]:
    """Cards of nothing but what belongs under the table."""
    pitch = round(NOTE_PITCH * bench.face("text").cap_px)
    fit = max(1, int(size[1] // pitch) - 1)
    return [
        Piece(
            columns=(),
            heads=(),
            widths_px=(),
            rows=(),
            labels=(),
            marked=(),
            notes=notes[n : n + fit],
        )
        for n in range(0, len(notes), fit)
    ]


def _notes(table: CardTable, bench: CardBench, width: int, choice: _Choice) -> tuple[str, ...]:
    """The sentences that belong to what is shown, in lines."""
    there = {table.columns[n].text for n in choice.places}
    if not choice.short:
        there.add(DOUBT)
    said = [note.text for note in table.notes if not note.of or there & set(note.of)]
    return tuple(bench.script("text").wrapped(" ".join(said), width)) if said else ()
