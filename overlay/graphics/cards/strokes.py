"""What all plots on cards share: strokes, colours as matplotlib takes them, and sizes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from overlay.graphics.cards.facts import Chart
from overlay.graphics.light import Rgb

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from overlay.graphics.cards.base import CardBench

DPI = 100.0

STROKES: dict[str, tuple[str, float, Any]] = {
    "thin": ("ink", 0.0012, "-"),
    "solid": ("ink", 0.0032, "-"),
    "dotted": ("ink", 0.0045, (0, (1.0, 0.8))),
    "strong": ("magenta", 0.006, "-"),
    "dashed": ("magenta", 0.006, (0, (2.0, 1.2))),
}
"""Colour, width as a share of the short side, and dashes: none is told by colour alone."""

SCALE = 0.011
"""Width of the scale at a plot's edge, as a share of the short side."""

HEAVIER = 1.03
"""matplotlib sets letters on parts of pixels; so much larger, none comes out too low."""


def css(rgb: Rgb) -> str:
    """A colour as matplotlib takes it."""
    return "#" + "".join(f"{part:02x}" for part in rgb)


def mixed(one: Rgb, other: Rgb, share: float) -> str:
    """A colour between two, nearer to the other the larger the share."""
    red, green, blue = (round((1 - share) * a + share * b) for a, b in zip(one, other, strict=True))
    return css((red, green, blue))


def points_of(px: float) -> float:
    """Pixels in the points that matplotlib counts in."""
    return px * 72 / DPI


def strong(bench: CardBench) -> Any:
    """The theme's strong font at the size of a card's text."""
    from matplotlib.font_manager import FontProperties

    size = points_of(bench.face("text").size_px * HEAVIER)
    return FontProperties(fname=bench.theme.strong, size=size)


def draw_lines(axes: Axes, chart: Chart, bench: CardBench) -> None:
    """The lines of a plot, each in its stroke."""
    named: set[str] = set()
    for line in chart.lines:
        colour, width, dashes = STROKES[line.stroke]
        axes.plot(
            line.x, line.y, color=css(getattr(bench.theme.colours, colour)), linestyle=dashes,
            linewidth=points_of(width * bench.picture.short_px),
            label=line.text if line.text and line.text not in named else None,
            zorder=2.5 if colour == "magenta" else 2, dash_capstyle="butt",
        )  # fmt: skip
        named.add(line.text)
