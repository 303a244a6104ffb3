"""The head of a card: a headline, and above it or beside it what trial it is of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from overlay.graphics.cards.base import CardBench
from overlay.graphics.cards.paper import Paper

LEADING = 1.42
"""From one baseline of a headline to the next, in heights of its capitals."""

BELOW, ABOVE = 1.1, 0.75
"""Room below a headline and below each line above it, in heights of text."""

ASIDE = 0.05
"""Least room between a headline and what stands beside it, as a share of the short side."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Head:
    """A head set for a width: the headline's lines, and what it is of, in one line or several."""

    bench: CardBench
    lines: tuple[str, ...]
    over: tuple[str, ...]
    beside: bool

    @property
    def height_px(self) -> int:
        """Down to where the contents may begin."""
        cap, text = self.bench.face("headline").cap_px, self.bench.face("text").cap_px
        high = cap + round(LEADING * cap) * (len(self.lines) - 1) + round(BELOW * text)
        return high + (0 if self.beside else len(self.over) * _over_pitch(text))

    @property
    def width_px(self) -> int:
        """Of its longest line."""
        over = max((_width(self.bench, line) for line in self.over), default=0)
        script = self.bench.script("headline")
        headline = max(script.width(line) for line in self.lines)
        return headline + over + self.bench.px(ASIDE) if self.beside else max(headline, over)

    def draw(self, paper: Paper) -> int:
        """Set it at the top of the paper; returns where the contents may begin."""
        bench = self.bench
        left, top, right, _ = paper.room
        cap, text = bench.face("headline").cap_px, bench.face("text").cap_px
        track = bench.px(bench.theme.tracking)
        y = top
        for line in self.over:
            if self.beside:
                paper.text(line, right, top + cap, colour="label", flush_right=True,
                           tracking_px=track)  # fmt: skip
            else:
                paper.text(line, left, y + text, colour="label", tracking_px=track)
                y += _over_pitch(text)
        for number, line in enumerate(self.lines):
            paper.text(line, left, y + cap + number * round(LEADING * cap), "headline")
        return top + self.height_px


def _over_pitch(text_px: int) -> int:
    return text_px + round(ABOVE * text_px)


def _width(bench: CardBench, text: str) -> int:
    return bench.script("text").width(text, bench.px(bench.theme.tracking))


def head(bench: CardBench, title: str, over: Sequence[str], width_px: int, most: int = 2) -> Head:
    """A headline in at most so many lines.

    Parameters
    ----------
    over
        What it is of, in parts: in one line beside the headline if there is room, else above
        it in as many lines as it needs. A lower third has it beside the headline or not at all.
    """
    script = bench.script("headline")
    lines = tuple(script.wrapped(title, width_px, most))
    parts = [part.upper() for part in over if part]
    joined = " · ".join(parts)
    used = script.width(lines[0]) + _width(bench, joined) + bench.px(ASIDE)
    if parts and len(lines) == 1 and used <= width_px:
        return Head(bench=bench, lines=lines, over=(joined,), beside=True)
    if bench.lower_third:
        return Head(bench=bench, lines=lines, over=(), beside=False)
    rows: list[str] = []
    for part in parts:
        longer = f"{rows[-1]} · {part}" if rows else part
        if rows and _width(bench, longer) <= width_px:
            rows[-1] = longer
        else:
            rows.append(_cut(bench, part, width_px))
    return Head(bench=bench, lines=lines, over=tuple(rows), beside=False)


def _cut(bench: CardBench, text: str, width_px: int) -> str:
    kept = text
    while _width(bench, kept) > width_px:
        kept = f"{kept[:-2].rstrip()}…"
    return kept
