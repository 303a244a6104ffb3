"""One look for all plots: the theme's colours on paper, its font, and the same bytes every time.

Nothing is told by colour alone: what differs in colour differs in its mark or its stroke, and
is named.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from overlay.graphics.theme import load_theme
from overlay.report.palette import Palette, palette

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_IN, HEIGHT_IN = 5.2, 3.4
"""Small on purpose: a plot as wide as a telephone keeps its letters legible there."""

STROKES: tuple[Any, ...] = ("-", (0, (5, 2)), (0, (1.5, 1.5)), (0, (6, 2, 1.5, 2)))
"""How the first, second, third line of a kind is dashed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plot:
    """A plot, ready to be put into a page or a file.

    Parameters
    ----------
    name
        Of its file, without the ending.
    title, about
        Above it, and the sentences that say what is seen.
    svg
        The picture, from `<svg` to `</svg>`.
    wide
        Whether it takes the page's whole width.
    """

    name: str
    title: str
    about: str
    svg: str
    wide: bool = False

    @property
    def inline(self) -> str:
        """The picture as a part of an HTML page, where it needs no name space."""
        return self.svg.replace(' xmlns="http://www.w3.org/2000/svg"', "", 1)


def draw(
    name: str,
    title: str,
    about: str,
    onto: Callable[[Figure, Palette], None],
    *,
    size_in: tuple[float, float] = (WIDTH_IN, HEIGHT_IN),
    wide: bool = False,
) -> Plot:
    """A plot of what a function draws onto a figure."""
    import matplotlib as mpl
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    colours = palette()
    with mpl.rc_context(_style(colours, name)):
        figure = Figure(figsize=size_in, layout="constrained")
        FigureCanvasSVG(figure)
        onto(figure, colours)
        out = io.StringIO()
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    return Plot(name=name, title=title, about=about, svg=_bare(out.getvalue(), name), wide=wide)


@cache
def _family() -> str:
    """The theme's plain and strong fonts made known to matplotlib, and what it calls them."""
    from matplotlib.font_manager import FontProperties, fontManager

    theme = load_theme()
    for path in (theme.plain, theme.strong):
        fontManager.addfont(path)
    return FontProperties(fname=theme.plain).get_name()


def _style(colours: Palette, name: str) -> Any:
    return {
        "svg.hashsalt": name,
        "svg.fonttype": "path",
        # What crews write into names is text, and no formula.
        "text.parse_math": False,
        "font.family": [_family(), "DejaVu Sans"],
        "font.size": 11,
        "axes.unicode_minus": True,
        "axes.edgecolor": colours.ink,
        "axes.linewidth": 0.9,
        "axes.facecolor": colours.paper,
        "axes.labelcolor": colours.ink,
        "axes.grid": True,
        "axes.axisbelow": True,
        "figure.facecolor": colours.paper,
        "grid.color": colours.rule,
        "grid.linewidth": 0.5,
        "legend.frameon": False,
        "legend.fontsize": 10,
        "lines.solid_capstyle": "butt",
        "path.simplify": True,
        "text.color": colours.ink,
        "xtick.color": colours.ink,
        "ytick.color": colours.ink,
        "xtick.labelsize": 10.5,
        "ytick.labelsize": 10.5,
    }


def _bare(svg: str, name: str) -> str:
    """The picture without prolog and metadata, its ids its own in a page with other pictures."""
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>\s*", "", svg, flags=re.DOTALL)
    svg = re.sub(r' (width|height)="[0-9.]+pt"', "", svg, count=2)
    svg = re.sub(r'\bid="', f'id="{name}-', svg)
    svg = re.sub(r'xlink:href="#', f'href="#{name}-', svg)
    svg = re.sub(r"url\(#", f"url(#{name}-", svg)
    return svg.replace(' xmlns:xlink="http://www.w3.org/1999/xlink"', "").strip()


def drawable(text: str, most: int = 24) -> str:
    """A name as the fonts can draw it, a box for each letter that none of them has; cut short."""
    known = _letters()
    shown = "".join(letter if ord(letter) in known else "□" for letter in text)
    return shown if len(shown) <= most else f"{shown[: most - 1]}…"


@cache
def _letters() -> frozenset[int]:
    from matplotlib.font_manager import FontProperties, findfont, get_font

    fallback = findfont(FontProperties(family="DejaVu Sans"))
    letters: set[int] = set()
    for path in (str(load_theme().plain), fallback):
        letters |= set(get_font(path).get_charmap())
    return frozenset(letters)


def scale_border(axes: Axes, colours: Palette, share: float = 0.018) -> None:
    """The scale of a chart's border, in black and white along the foot, a share of it high."""
    low, high = axes.get_xlim()
    ticks = [tick for tick in axes.get_xticks() if low <= tick <= high]
    edges = [low, *ticks, high]
    for number, (left, right) in enumerate(pairwise(edges)):
        axes.axvspan(
            left, right, ymin=-0.001, ymax=share, zorder=3, linewidth=0.6, edgecolor=colours.ink,
            facecolor=colours.ink if number % 2 else colours.paper, clip_on=False,
        )  # fmt: skip
    axes.set_xlim(low, high)
