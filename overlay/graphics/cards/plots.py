"""Plots on cards: where they stand, and the key and the sentences under them."""

from __future__ import annotations

from collections.abc import Sequence

from overlay.graphics import shapes
from overlay.graphics.cards.base import CardBench, Drawn
from overlay.graphics.cards.chart import draw_chart
from overlay.graphics.cards.facts import CardFacts, Chart, Stroke
from overlay.graphics.cards.head import Head, head
from overlay.graphics.cards.measures import NOTE_PITCH
from overlay.graphics.cards.paper import Card, Paper
from overlay.graphics.cards.strokes import STROKES

BETWEEN = 0.03
"""Between two plots, as a share of the short side."""

LEAST = 0.5, 0.45
"""Least width and height of a plot, as shares of the short side: letters take the rest."""

SAMPLE = 0.07
"""Length of a stroke in the key, as a share of the short side."""


def draw_plots(facts: CardFacts, bench: CardBench, titles: Sequence[str]) -> Drawn:
    """The facts' plots beside or under each other, on one card or on one each.

    Of the titles the first stands that takes one line; plots need the room.
    """
    width, height = bench.room
    set_in = [head(bench, title, (facts.title, facts.subtitle), width) for title in titles]
    top = next((one for one in set_in if len(one.lines) == 1), set_in[-1])
    groups = [facts.charts]
    if not _roomy(facts.charts, bench, height - top.height_px):
        groups = [(chart,) for chart in facts.charts]
    cards = [_card(bench, top, group) for group in groups]
    said = (f"the plots stand on {len(cards)} cards",) if len(cards) > 1 else ()
    return Drawn(cards=tuple(cards), remarks=said)


def _roomy(charts: Sequence[Chart], bench: CardBench, room: int) -> bool:
    """Whether all plots together have room on one card, key and sentences under them."""
    width, count, gap = bench.room[0], len(charts), bench.px(BETWEEN)
    high = room - _under_px(charts, bench)
    if _beside(bench):
        wide = (width - gap * (count - 1)) // count
    else:
        wide, high = width, (high - gap * (count - 1)) // count
    return wide >= bench.px(LEAST[0]) and high >= bench.px(LEAST[1])


def _under_px(charts: Sequence[Chart], bench: CardBench) -> int:
    pitch = round(NOTE_PITCH * bench.face("text").cap_px)
    return pitch * (len(_key_rows(charts, bench)) + len(_notes(charts, bench)))


def _notes(charts: Sequence[Chart], bench: CardBench) -> list[str]:
    """The sentences under some plots, each said once, in lines."""
    said = dict.fromkeys(note for chart in charts for note in chart.notes)
    return bench.script("text").wrapped(" ".join(said), bench.room[0]) if said else []


def _beside(bench: CardBench) -> bool:
    return bench.picture.shape == "wide"


def _card(bench: CardBench, top: Head, charts: Sequence[Chart]) -> Card:
    paper = bench.paper()
    left, _, right, bottom = paper.room
    y = top.draw(paper)
    pitch = round(NOTE_PITCH * bench.face("text").cap_px)
    foot = bottom - _under_px(charts, bench)
    gap = bench.px(BETWEEN)
    count = len(charts)
    for n, chart in enumerate(charts):
        if _beside(bench):
            wide = (right - left - gap * (count - 1)) // count
            box = left + n * (wide + gap), y, wide, foot - y
        else:
            tall = (foot - y - gap * (count - 1)) // count
            box = left, y + n * (tall + gap), right - left, tall
        _place(paper, chart, box)
    baseline = foot + pitch
    for row in _key_rows(charts, bench):
        _draw_key(paper, row, left, baseline)
        baseline += pitch
    for line in _notes(charts, bench):
        paper.text(line, left, baseline)
        baseline += pitch
    return paper.card()


def _place(paper: Paper, chart: Chart, box: tuple[int, int, int, int]) -> None:
    left, top, wide, tall = box
    drawn = draw_chart(chart, paper.bench, (wide, tall))
    paper.canvas.paste(drawn.image, left, top)
    cap = paper.bench.face("text").cap_px
    for text, (x, y, width, height) in drawn.texts:
        paper.note(text, (left + x, top + y, width, height), cap, "text")


def _key_rows(charts: Sequence[Chart], bench: CardBench) -> list[list[tuple[str, Stroke]]]:
    """What each stroke means, in rows that fit."""
    meant = {line.text: line.stroke for chart in charts for line in chart.lines if line.text}
    rows: list[list[tuple[str, Stroke]]] = []
    width = bench.room[0]
    used = width + 1
    for text, stroke in meant.items():
        wide = _key_width(bench, text)
        if used + wide > width:
            rows.append([])
            used = 0
        rows[-1].append((text, stroke))
        used += wide
    return rows


def _key_width(bench: CardBench, text: str) -> int:
    return bench.px(SAMPLE) + bench.px(0.015) + bench.script("text").width(text) + bench.px(0.035)


def _draw_key(paper: Paper, row: Sequence[tuple[str, Stroke]], left: int, baseline: int) -> None:
    bench = paper.bench
    middle = baseline - bench.face("text").cap_px / 2
    for text, stroke in row:
        colour, width, dashes = STROKES[stroke]
        thick = max(1.0, width * bench.picture.short_px)
        for start, stop in _dashes(bench.px(SAMPLE), thick, dashes):
            paper.fill(
                shapes.rectangle(left + start, middle - thick / 2, stop - start, thick), colour
            )
        paper.text(text, left + bench.px(SAMPLE) + bench.px(0.015), baseline)
        left += _key_width(bench, text)


def _dashes(length: float, thick: float, dashes: object) -> list[tuple[float, float]]:
    """From where to where a stroke is drawn."""
    if not isinstance(dashes, tuple):
        return [(0.0, length)]
    on, off = (part * thick for part in dashes[1])
    count = int(length // (on + off)) + 1
    return [
        (n * (on + off), min(n * (on + off) + on, length))
        for n in range(count)
        if n * (on + off) < length
    ]
