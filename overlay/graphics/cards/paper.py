"""What a card is drawn on: a sheet of chart paper in its neatline, or a plate over the picture.

A full frame is ink blue to its edges, and the sheet lies inside the safe area: so nothing of it
is covered by a phone's own signs, and an upright card looks as it was meant to.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from overlay.graphics import shapes
from overlay.graphics.cards.canvas import Canvas
from overlay.graphics.layer import Bytes, Mask
from overlay.graphics.light import Rgb

if TYPE_CHECKING:
    from overlay.graphics.cards.base import CardBench

Box = tuple[int, int, int, int]

BAND_AT, BAND, HAIRLINE_AT = 0.006, 0.0085, 0.0195
"""From a sheet's edge to the scale in its border, how wide that is, and where the inner line
runs, in shares of the short side."""

PART = 0.09
"""About how long a part of the border's scale is, as a share of the short side."""

HAIRLINE = 0.0014

ON_PAPER = {"text": "ink", "label": "ink", "rule": "engraving", "accent": "magenta"}
ON_INK = {"text": "cream", "label": "buff", "rule": "engraving", "accent": "magenta_text"}
"""Colours of the theme by what they are for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CardText:
    """A text on a card: where it stands, how high its capitals are, and its colours."""

    text: str
    box_px: Box
    cap_px: int
    colour: Rgb
    ground: Rgb


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Card:
    """A finished card: R'G'B' and straight alpha [shape=(rows, columns, 4)], and its texts."""

    image: Bytes
    texts: tuple[CardText, ...]


class Paper:
    """A card while it is drawn. `room` has the left, top, right and bottom of what may be used.

    Parameters
    ----------
    size
        Width and height that the contents of a lower third need; all there is without it.
    """

    def __init__(self, bench: CardBench, *, dark: bool, size: tuple[int, int] | None) -> None:
        self.bench = bench
        self.canvas = Canvas(bench.picture)
        self.texts: list[CardText] = []
        self._roles = ON_INK if dark else ON_PAPER
        safe, inset = bench.safe, bench.inset_px
        width, height = size if size and bench.lower_third else bench.room
        left, bottom = safe.left, safe.bottom
        self._box = left, bottom - height - 2 * inset, width + 2 * inset, height + 2 * inset
        self.ground = self._rgb("ink" if dark else "cream")
        if bench.lower_third:
            self._plate()
        else:
            self._sheet()
        left, top, width, height = self._box
        self.room = left + inset, top + inset, left + width - inset, top + height - inset

    def _rgb(self, name: str) -> Rgb:
        rgb: Rgb = getattr(self.bench.theme.colours, name)
        return rgb

    def colour(self, role: str) -> Rgb:
        """The colour for `text`, a `label`, a `rule` or an `accent` on this ground, or one of
        the theme by its name."""
        return self._rgb(self._roles.get(role, role))

    def fill(self, mask: Mask, role: str, opacity: float = 1.0) -> None:
        """Lay a mask over the card."""
        self.canvas.cover(mask, self.colour(role), opacity)

    def _sheet(self) -> None:
        """The whole frame, and the sheet with its border."""
        picture, bench = self.bench.picture, self.bench
        whole = shapes.rectangle(0, 0, picture.width_px, picture.height_px)
        self.canvas.cover(whole, self._rgb("ink"))
        left, top, width, height = self._box
        self.canvas.cover(shapes.rectangle(left, top, width, height), self.ground)
        at, band, line = bench.px(BAND_AT), bench.px(BAND), bench.px(HAIRLINE)
        for inset in (at - line, at + band, bench.px(HAIRLINE_AT)):
            self._frame(inset, "text")
        x, y = left + at, top + at
        across, down = width - 2 * at, height - 2 * at
        for start, length in _dark_parts(across - 2 * band, bench.px(PART)):
            for edge in (y, y + down - band):
                self.fill(shapes.rectangle(x + band + start, edge, length, band), "text")
        for start, length in _dark_parts(down - 2 * band, bench.px(PART)):
            for edge in (x, x + across - band):
                self.fill(shapes.rectangle(edge, y + band + start, band, length), "text")

    def _plate(self) -> None:
        """An ink-blue plate over the picture, the scale along its foot."""
        left, top, width, height = self._box
        plate = shapes.rectangle(left, top, width, height)
        self.canvas.cover(plate, self.ground, self.bench.theme.opacity)
        band = self.bench.px(BAND)
        foot = top + height - band
        self.fill(shapes.rectangle(left, foot, width, band), "ink")
        for start, length in _dark_parts(width, self.bench.px(PART)):
            self.fill(shapes.rectangle(left + start, foot, length, band), "text")
        self.fill(shapes.rectangle(left, foot - self.bench.px(HAIRLINE), width,
                                   self.bench.px(HAIRLINE)), "text")  # fmt: skip

    def _frame(self, inset: int, role: str) -> None:
        left, top, width, height = self._box
        line = self.bench.px(HAIRLINE)
        across, down = width - 2 * inset, height - 2 * inset
        for mask in (
            shapes.rectangle(left + inset, top + inset, across, line),
            shapes.rectangle(left + inset, top + height - inset - line, across, line),
            shapes.rectangle(left + inset, top + inset, line, down),
            shapes.rectangle(left + width - inset - line, top + inset, line, down),
        ):
            self.fill(mask, role)

    def rule(self, left: int, right: int, y: int, *, heavy: bool = False) -> None:
        """A level line, engraved or as heavy as a table's head wants it."""
        line = self.bench.px(HAIRLINE)
        mask = shapes.rectangle(left, y, right - left, 2 * line if heavy else line)
        self.fill(mask, "text" if heavy else "rule")

    def text(
        self,
        text: str,
        x: int,
        baseline: int,
        role: str = "text",
        *,
        colour: str = "text",
        ground: str = "",
        flush_right: bool = False,
        tracking_px: int = 0,
    ) -> None:
        """A line of text from a place on its baseline, or up to it."""
        script = self.bench.script(role)
        line = script.line(text, tracking_px)
        ink = line.at(x - line.advance_px if flush_right else x, baseline)
        if not ink.alpha.size:
            return
        self.fill(ink, colour)
        self.note(line.text, ink.box, script.face.cap_px, colour, ground)

    def note(self, text: str, box: Box, cap_px: int, colour: str, ground: str = "") -> None:
        """Keep a text that was drawn, for whoever asks what stands where."""
        self.texts.append(
            CardText(
                text=text,
                box_px=box,
                cap_px=cap_px,
                colour=self.colour(colour),
                ground=self.colour(ground) if ground else self.ground,
            )
        )

    def card(self) -> Card:
        """The finished card."""
        return Card(image=self.canvas.rgba(), texts=tuple(self.texts))


def _dark_parts(length: int, part: int) -> list[tuple[int, int]]:
    """Start and length of every second part of a scale, an odd number of parts in all, so that
    both ends are alike."""
    count = 2 * max(1, round(length / part / 2)) + 1
    edges = [round(length * number / count) for number in range(count + 1)]
    return [(edges[n], edges[n + 1] - edges[n]) for n in range(0, count, 2)]
