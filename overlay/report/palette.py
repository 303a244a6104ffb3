"""The colours of pages and plots: those of the project's theme, and tints of them on paper."""

from __future__ import annotations

from dataclasses import dataclass

from overlay.graphics.light import Rgb
from overlay.graphics.theme import load_theme

WHITE: Rgb = (255, 255, 255)


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """Colours as CSS and matplotlib take them, `#10243e`.

    `paper` is what pages and plots are printed on, `rule` a hairline on it, `sand` and `shoal`
    the areas of buff and shallow water.
    """

    ink: str
    engraving: str
    cream: str
    magenta: str
    buff: str
    shallow: str
    paper: str
    rule: str
    sand: str
    shoal: str


def palette(theme: str = "chart") -> Palette:
    """The colours of a theme."""
    colours = load_theme(theme).colours
    paper = mixed(colours.cream, WHITE, 0.62)
    return Palette(
        ink=_hex(colours.ink),
        engraving=_hex(colours.engraving),
        cream=_hex(colours.cream),
        magenta=_hex(colours.magenta),
        buff=_hex(colours.buff),
        shallow=_hex(colours.shallow),
        paper=_hex(paper),
        rule=_hex(mixed(colours.engraving, paper, 0.45)),
        sand=_hex(mixed(colours.buff, paper, 0.55)),
        shoal=_hex(mixed(colours.shallow, paper, 0.6)),
    )


def mixed(one: Rgb, other: Rgb, share: float) -> Rgb:
    """A colour between two, nearer to the other the larger the share."""
    red, green, blue = (round((1 - share) * a + share * b) for a, b in zip(one, other, strict=True))
    return red, green, blue


def _hex(colour: Rgb) -> str:
    return "#" + "".join(f"{part:02x}" for part in colour)
