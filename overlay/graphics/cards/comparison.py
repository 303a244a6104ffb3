"""Two to six trials side by side."""

from __future__ import annotations

from overlay.graphics.cards.base import CardBench, CardKind, Drawn
from overlay.graphics.cards.facts import CardFacts
from overlay.graphics.cards.table import draw_table


def draw(facts: CardFacts, bench: CardBench) -> Drawn:
    """A row for each figure, a column for each trial."""
    return draw_table(facts, bench, "Side by side")


KIND = CardKind(
    name="comparison",
    text="two to six trials side by side, held against the first",
    lower_third=True,
    draw=draw,
)
