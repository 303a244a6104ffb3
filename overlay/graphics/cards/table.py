"""Tables on cards: the kinds that show one share this."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from overlay.graphics import shapes
from overlay.graphics.cards.base import CardBench, Drawn
from overlay.graphics.cards.facts import CardFacts, CardTable
from overlay.graphics.cards.fitting import Piece, fitted
from overlay.graphics.cards.head import Head, head
from overlay.graphics.cards.measures import (
    GAP,
    NOTE_PITCH,
    PITCH,
    WIDEST_PITCH,
    head_height,
    notes_height,
    row_height,
)
from overlay.graphics.cards.paper import Card, Paper

WIDEST_GAP = 0.11
"""Most room between two columns, as a share of the short side: an eye must cross it."""


def draw_table(facts: CardFacts, bench: CardBench, title: str) -> Drawn:
    """The facts' table under a headline, on as many cards as it needs."""
    assert facts.table is not None  # whoever asked for this kind filled it in
    table, said = _for_form(facts.table, bench)
    width, height = bench.room
    over = (facts.title, facts.subtitle)
    top = head(bench, title, over, width)
    pieces, remarks = fitted(table, bench, (width, height - top.height_px))
    if len(pieces) > 1:
        # Each says which it is, so that the head must be set with room for that.
        top = head(bench, title, (*over, _counted(8, 8)), width)
        pieces, remarks = fitted(table, bench, (width, height - top.height_px))
    cards = []
    for number, piece in enumerate(pieces, start=1):
        if len(pieces) > 1:
            top = head(bench, title, (*over, _counted(number, len(pieces))), width)
        cards.append(_card(bench, top, piece))
    return Drawn(cards=tuple(cards), remarks=(*said, *remarks))


def _counted(number: int, count: int) -> str:
    return f"{number} of {count}"


def _for_form(table: CardTable, bench: CardBench) -> tuple[CardTable, tuple[str, ...]]:
    """A lower third has the rows that matter, where there are such."""
    if not bench.lower_third or not table.chosen or len(table.chosen) == len(table.rows):
        return table, ()
    kept = table.chosen
    shorter = replace(
        table,
        rows=tuple(table.rows[n] for n in kept),
        short_rows=tuple(table.short_rows[n] for n in kept) if table.short_rows else (),
        marked=tuple(n for n, row in enumerate(kept) if row in table.marked),
        chosen=(),
        notes=tuple(note for note in table.notes if not note.of_rest),
    )
    left = len(table.rows) - len(kept)
    rows = "row is" if left == 1 else "rows are"
    return shorter, (f"{left} {rows} left to the full card",)


def _card(bench: CardBench, top: Head, piece: Piece) -> Card:
    cap = bench.face("text").cap_px
    width, height = bench.room
    room = height - top.height_px - head_height(bench, piece.head_lines)
    room -= notes_height(bench, piece.notes)
    least = sum(row_height(bench, label) for label in piece.labels)
    # What is left over goes between the rows, up to where an eye would lose the next one.
    widest = 0 if bench.lower_third else round((WIDEST_PITCH - PITCH) * cap)
    more = max(0, min(widest, (room - least) // max(1, len(piece.rows))))
    notes_px = max((bench.script("text").width(line) for line in piece.notes), default=0)
    if bench.lower_third:
        width = min(width, max(_least(bench, piece), notes_px, top.width_px))
    lefts, right = _across(bench, piece, width)
    needs = (
        max(right, notes_px, top.width_px),
        height - room + least + more * len(piece.rows),
    )
    paper = bench.paper(size=needs)
    y = top.draw(paper)
    if piece.rows:
        left = paper.room[0]
        y = _draw_head(paper, piece, [left + x for x in lefts], left + right, y)
        y = _draw_rows(paper, piece, [left + x for x in lefts], left + right, y, more)
    _draw_notes(paper, piece.notes, y)
    return paper.card()


def _least(bench: CardBench, piece: Piece) -> int:
    """How wide a piece is with twice the least room between its columns."""
    between = max(0, len(piece.widths_px) - 1)
    return sum(piece.widths_px) + 2 * bench.px(GAP) * between


def _across(bench: CardBench, piece: Piece, width: int) -> tuple[list[int], int]:
    """Where each column begins, and where the last one ends."""
    between = len(piece.widths_px) - 1
    gap = 0
    if between > 0:
        spare = (width - sum(piece.widths_px)) // between
        gap = spare if bench.lower_third else min(spare, bench.px(WIDEST_GAP))
    lefts, x = [], 0
    for wide in piece.widths_px:
        lefts.append(x)
        x += wide + gap
    return lefts, max(0, x - gap)


def _place(piece: Piece, n: int, lefts: Sequence[int]) -> tuple[int, bool]:
    flush_right = piece.columns[n].number
    return (lefts[n] + piece.widths_px[n] if flush_right else lefts[n]), flush_right


def _draw_head(paper: Paper, piece: Piece, lefts: Sequence[int], right: int, y: int) -> int:
    bench = paper.bench
    cap = bench.face("text").cap_px
    pitch = round(NOTE_PITCH * cap)
    foot = y + pitch * piece.head_lines
    for n, lines in enumerate(piece.heads):
        x, flush_right = _place(piece, n, lefts)
        for up, line in enumerate(reversed(lines)):
            baseline = foot - (pitch - cap) - up * pitch
            paper.text(line, x, baseline, colour="label", flush_right=flush_right)
    paper.rule(paper.room[0], right, foot, heavy=True)
    return y + head_height(bench, piece.head_lines)


def _draw_rows(
    paper: Paper, piece: Piece, lefts: Sequence[int], right: int, y: int, more: int
) -> int:
    bench = paper.bench
    pad = bench.px(0.009)
    for number, row in enumerate(piece.rows):
        high = row_height(bench, piece.labels[number]) + more
        marked = number in piece.marked
        if marked:
            strip = shapes.rectangle(lefts[0] - pad, y, right - lefts[0] + 2 * pad, high)
            paper.fill(strip, "magenta")
        elif number and number - 1 not in piece.marked:
            paper.rule(lefts[0], right, y)
        _draw_row(paper, piece, number, lefts, y + more // 2, row)
        y += high
    return y


def _draw_row(
    paper: Paper, piece: Piece, number: int, lefts: Sequence[int], y: int, row: Sequence[str]
) -> None:
    """The cells of a row on its first baseline, and what of its label goes on below."""
    cap = paper.bench.face("text").cap_px
    marked = number in piece.marked
    colour, ground = ("cream", "magenta") if marked else ("text", "")
    baseline = y + (round(PITCH * cap) + cap) // 2
    for n, cell in enumerate(row):
        x, flush_right = _place(piece, n, lefts)
        role = "strong" if marked or n == 0 else "text"
        for down, line in enumerate(piece.labels[number] if n == 0 else (cell,)):
            paper.text(line, x, baseline + down * round(NOTE_PITCH * cap), role, colour=colour,
                       ground=ground, flush_right=flush_right)  # fmt: skip


def _draw_notes(paper: Paper, lines: Sequence[str], y: int) -> None:
    """The sentences under a table, from a baseline down."""
    cap = paper.bench.face("text").cap_px
    pitch = round(NOTE_PITCH * cap)
    baseline = y + round(0.7 * cap) + cap
    for line in lines:
        paper.text(line, paper.room[0], baseline)
        baseline += pitch
