"""What a card is, and what it is drawn with.

How to add one:

1. Say in `facts.py` what the card must be told, if that is not there yet: texts with their
   digits, or plain numbers of a plot. A card works nothing out.
2. Write a module in this folder with one function, `draw(facts, bench)`. It returns a `Drawn`:
   one card or, where there is no room for all, several, with a remark on what was left out.
   The same facts on the same picture give the same card.
3. Take a `Paper` from `bench.paper()`, lay texts and masks on it inside `paper.room`, and end
   with `paper.card()`. Sizes are shares of the picture's short side (`bench.px`); text has the
   sizes of `bench.face`, and is never made smaller to fit.
4. End the module with `KIND`: its name, what it shows, and whether it makes a lower third.
5. Put `KIND` into `CARDS` in `__init__.py`, and what fills in its facts into `FILLED` of
   `overlay/workflow/card_facts.py`. The contract tests then run over it.

`conditions.py` is the shortest example.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

from overlay.errors import FaceplateError
from overlay.graphics.cards.facts import CardFacts
from overlay.graphics.cards.paper import Card, Paper
from overlay.graphics.cards.prose import Script
from overlay.graphics.layout import Area, safe_area
from overlay.graphics.lettering import Face, Lettering
from overlay.graphics.picture import Picture
from overlay.graphics.theme import Theme

HEADLINE = 0.062
"""Height of a headline's capitals, as a share of the short side; 0.06 is the least."""

WEIGHTS = {"headline": "strong", "second": "strong", "strong": "strong", "text": "plain"}

LEAST_PX, MOST_PX = 240, 8192
"""Below, letters have too few pixels to be told apart; above, no common film has pictures."""

LONGEST = 4.0
"""Ratio of the sides of a picture beyond which no card is laid out."""

LOWER_THIRD = 0.43
"""How much of the picture's height a lower third may take. With a headline of 6 % and text of
2.8 % a square has no room for two rows and what must be said of them in less."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawn:
    """The cards of one kind, in their order, and what is said about them."""

    cards: tuple[Card, ...]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class CardBench:
    """What a card has at hand: the picture's size, the theme, and its form."""

    picture: Picture
    theme: Theme
    lower_third: bool = False
    _scripts: dict[str, Script] = field(default_factory=dict)

    def __post_init__(self) -> None:
        width, height = self.picture.width_px, self.picture.height_px
        sides = sorted((width, height))
        if width % 2 or height % 2 or not LEAST_PX <= sides[0] <= sides[1] <= MOST_PX:
            raise FaceplateError(
                f"a card of {width}x{height} pixels cannot be drawn",
                advice=f"name two even numbers from {LEAST_PX} to {MOST_PX}, such as 1920x1080",
            )
        if sides[1] > LONGEST * sides[0]:
            raise FaceplateError(
                f"a card of {width}x{height} pixels is too long for its letters",
                advice=f"let one side be at most {LONGEST:g} times the other",
            )

    def px(self, share: float) -> int:
        """A share of the short side in whole pixels."""
        return self.picture.px(share)

    @cached_property
    def safe(self) -> Area:
        """What no edge of a screen and no phone's own signs cover."""
        return safe_area(self.picture)

    @cached_property
    def _lettering(self) -> Lettering:
        return Lettering(self.theme.fonts)

    def face(self, role: str) -> Face:
        """The font for a `headline`, a `second` line, `strong` text or `text`."""
        share = {"headline": HEADLINE, "second": self.theme.second}.get(role, self.theme.label)
        # Never below the share, whatever the picture's size.
        cap_px = math.ceil(share * self.picture.short_px - 1e-9)
        return self._lettering.face(WEIGHTS[role], cap_px)

    def script(self, role: str) -> Script:
        """The same, for texts of any length and letters."""
        if role not in self._scripts:
            self._scripts[role] = Script(self.face(role))
        return self._scripts[role]

    def paper(self, *, dark: bool = False, size: tuple[int, int] | None = None) -> Paper:
        """A full frame, paper-cream or ink-blue, or a lower third for so much width and height."""
        return Paper(self, dark=dark or self.lower_third, size=size)

    @cached_property
    def room(self) -> tuple[int, int]:
        """Most width and height that a card's contents may take."""
        edge = 2 * self.inset_px
        height = self.safe.bottom - self.safe.top
        if self.lower_third:
            height = min(height, round(LOWER_THIRD * self.picture.height_px))
        return self.safe.width - edge, height - edge

    @cached_property
    def inset_px(self) -> int:
        """From the safe area's edge, or a plate's, to what stands on a card."""
        return self.px(0.018 if self.lower_third else 0.038)


@dataclass(frozen=True, slots=True, kw_only=True)
class CardKind:
    """A sort of card.

    Parameters
    ----------
    name, text
        The word for it in the command, and what it shows.
    lower_third
        Whether it can lie over a picture; a plot has no room there for its letters.
    draw
        Its cards, of the facts that it is told.
    """

    name: str
    text: str
    lower_third: bool
    draw: Callable[[CardFacts, CardBench], Drawn]
