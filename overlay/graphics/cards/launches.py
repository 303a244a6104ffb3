"""The launch table, the mean both ways first."""

from __future__ import annotations

from overlay.graphics.cards.base import CardBench, CardKind, Drawn
from overlay.graphics.cards.facts import CardFacts
from overlay.graphics.cards.table import draw_table


def draw(facts: CardFacts, bench: CardBench) -> Drawn:
    """A row for the mean both ways and for each launch."""
    return draw_table(facts, bench, "From rest")


KIND = CardKind(
    name="launches",
    text="launch table: times from rest, the mean both ways first",
    lower_third=True,
    draw=draw,
)
