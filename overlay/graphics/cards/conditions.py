"""The conditions of the day and the load, as the sheet states them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from overlay.graphics.cards.base import CardBench, CardKind, Drawn
from overlay.graphics.cards.facts import CardFacts, Stated
from overlay.graphics.cards.head import Head, head
from overlay.graphics.cards.paper import Card, Paper

PITCH, LOWER_PITCH, LINE = 1.8, 1.6, 1.45
"""From one row to the next on a full frame and in a lower third, and from one line of a long
text to the next, in heights of capitals."""

BETWEEN = 0.06
"""Between two columns, as a share of the short side."""

WHAT = 0.45
"""How much of a column the word for what is stated may take."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """What is stated and its value, in lines; without a value, the head of a part."""

    what: tuple[str, ...]
    value: tuple[str, ...]
    height_px: int


def draw(facts: CardFacts, bench: CardBench) -> Drawn:
    """A column for each part in a wide picture, else one under the other; large if it can be."""
    width, height = bench.room
    top = head(bench, "As tested", (facts.title, facts.subtitle), width)
    beside = 2 if bench.picture.shape == "wide" else 1
    wide = (width - (beside - 1) * bench.px(BETWEEN)) // beside
    for role in ("text",) if bench.lower_third else ("second", "text"):
        columns = _columns(facts.stated, bench, role, (wide, height - top.height_px))
        if len(columns) <= beside:
            break
    groups = [columns[n : n + beside] for n in range(0, len(columns), beside)]
    cards = tuple(_card(bench, top, group, role, wide) for group in groups)
    said = (f"the list is parted over {len(cards)} cards",) if len(cards) > 1 else ()
    return Drawn(cards=cards, remarks=said)


def _columns(
    stated: Sequence[Stated], bench: CardBench, role: str, size: tuple[int, int]
) -> list[list[_Row]]:
    """All rows in columns that are not too high, each part with its head; a lower third has no
    room for heads."""
    columns: list[list[_Row]] = [[]]
    part = ""
    for one in stated:
        row = _row(one, bench, role, size[0])
        title = _Row(what=(one.part.upper(),), value=(), height_px=_pitch(bench, role))
        top = [] if bench.lower_third else [title]
        new = [row] if one.part == part else [*top, row]
        tall = sum(entry.height_px for entry in (*columns[-1], *new))
        starts = one.part != part and bench.picture.shape == "wide"
        if columns[-1] and (tall > size[1] or starts):
            columns.append([])
            new = [*top, row]
        columns[-1] += new
        part = one.part
    return columns


def _pitch(bench: CardBench, role: str) -> int:
    pitch = LOWER_PITCH if bench.lower_third else PITCH
    return round(pitch * bench.face(role).cap_px)


def _row(one: Stated, bench: CardBench, role: str, wide: int) -> _Row:
    what = tuple(bench.script("text").wrapped(one.what, round((WHAT - 0.03) * wide)))
    value = tuple(bench.script(_bold(role)).wrapped(one.value, round((1 - WHAT) * wide)))
    more = max(
        round(LINE * bench.face("text").cap_px) * (len(what) - 1),
        round(LINE * bench.face(role).cap_px) * (len(value) - 1),
    )
    return _Row(what=what, value=value, height_px=_pitch(bench, role) + more)


def _bold(role: str) -> str:
    return "strong" if role == "text" else role


def _card(
    bench: CardBench, top: Head, columns: Sequence[Sequence[_Row]], role: str, wide: int
) -> Card:
    tall = max(sum(row.height_px for row in column) for column in columns)
    apart = wide + bench.px(BETWEEN)
    across = apart * (len(columns) - 1) + wide
    paper = bench.paper(size=(max(across, top.width_px), top.height_px + tall))
    y = top.draw(paper)
    for number, column in enumerate(columns):
        _draw(paper, column, role, (paper.room[0] + number * apart, y, wide))
    return paper.card()


def _draw(paper: Paper, rows: Sequence[_Row], role: str, at: tuple[int, int, int]) -> None:
    bench = paper.bench
    left, y, wide = at
    cap, plain = bench.face(role).cap_px, bench.face("text").cap_px
    for number, row in enumerate(rows):
        baseline = y + (_pitch(bench, role) + cap) // 2
        for down, line in enumerate(row.what):
            if row.value:
                paper.text(line, left, baseline + down * round(LINE * plain))
            else:
                paper.text(line, left, baseline, "strong", colour="accent",
                           tracking_px=bench.px(bench.theme.tracking))  # fmt: skip
        for down, line in enumerate(row.value):
            x = left + round(WHAT * wide)
            paper.text(line, x, baseline + down * round(LINE * cap), _bold(role))
        y += row.height_px
        if not row.value or (number + 1 < len(rows) and rows[number + 1].value):
            paper.rule(left, left + wide, y, heavy=not row.value)


KIND = CardKind(
    name="conditions",
    text="wind, water, air and load, as the sheet states them",
    lower_third=True,
    draw=draw,
)
