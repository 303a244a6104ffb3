"""The step table."""

from __future__ import annotations

from overlay.graphics.cards.base import CardBench, CardKind, Drawn
from overlay.graphics.cards.facts import CardFacts
from overlay.graphics.cards.table import draw_table


def draw(facts: CardFacts, bench: CardBench) -> Drawn:
    """A row for each engine speed."""
    return draw_table(facts, bench, "Steps")


KIND = CardKind(
    name="steps",
    text="step table: engine speed, speed, flow, economy",
    lower_third=True,
    draw=draw,
)
