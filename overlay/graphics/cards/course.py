"""Where she went in the day, without a place."""

from __future__ import annotations

from overlay.graphics.cards.base import CardBench, CardKind, Drawn
from overlay.graphics.cards.facts import CardFacts
from overlay.graphics.cards.plots import draw_plots


def draw(facts: CardFacts, bench: CardBench) -> Drawn:
    """The day's course, each run in the stroke of its kind."""
    return draw_plots(facts, bench, ("Where she went", "Course"))


KIND = CardKind(
    name="course",
    text="course of the day, each kind of run in a stroke of its own",
    lower_third=False,
    draw=draw,
)
