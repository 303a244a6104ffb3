"""Speed against engine speed, and economy against speed."""

from __future__ import annotations

from overlay.graphics.cards.base import CardBench, CardKind, Drawn
from overlay.graphics.cards.facts import CardFacts
from overlay.graphics.cards.plots import draw_plots


def draw(facts: CardFacts, bench: CardBench) -> Drawn:
    """The curves that the steps give."""
    return draw_plots(facts, bench, ("Speed and economy", "Curves"))


KIND = CardKind(
    name="curves",
    text="speed against engine speed, economy against speed",
    lower_third=False,
    draw=draw,
)
