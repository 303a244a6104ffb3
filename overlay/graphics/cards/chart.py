"""A plot on a card: the theme's colours on paper and its font, as large as a card's text.

matplotlib draws it at device size. It has a scale in black and white at its foot, or all round
where it is a plan.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from overlay.graphics.cards.chart_curve import draw_curve, draw_foot
from overlay.graphics.cards.chart_plan import draw_border, draw_plan
from overlay.graphics.cards.facts import Chart
from overlay.graphics.cards.strokes import DPI, HEAVIER, css, mixed, points_of
from overlay.graphics.layer import Bytes

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from overlay.graphics.cards.base import CardBench
    from overlay.graphics.cards.paper import Box


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnChart:
    """A plot as pixels [shape=(rows, columns, 3)], and its texts with their boxes in it."""

    image: Bytes
    texts: tuple[tuple[str, Box], ...]


def draw_chart(chart: Chart, bench: CardBench, size: tuple[int, int]) -> DrawnChart:
    """A plot at a size in pixels."""
    import matplotlib as mpl
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    with mpl.rc_context(_style(bench)):
        figure = Figure(figsize=(size[0] / DPI, size[1] / DPI), dpi=DPI)
        figure.set_layout_engine("constrained", w_pad=0.04, h_pad=0.02)
        canvas: Any = FigureCanvasAgg(figure)  # its methods have no types
        axes = figure.add_subplot()
        if chart.plan:
            draw_plan(axes, chart, bench)
        else:
            draw_curve(axes, chart, bench)
        canvas.draw()
        (draw_border if chart.plan else draw_foot)(axes, bench, size)
        figure.set_layout_engine("none")
        canvas.draw()
        image = np.array(canvas.buffer_rgba(), dtype=np.uint8)[..., :3]
        texts = _texts(figure, size[1])
    return DrawnChart(image=image, texts=texts)


def _style(bench: CardBench) -> Any:
    from matplotlib.font_manager import FontProperties, fontManager

    theme = bench.theme
    for path in (theme.plain, theme.strong):
        fontManager.addfont(path)
    ink, cream = css(theme.colours.ink), css(theme.colours.cream)
    size = points_of(bench.face("text").size_px * HEAVIER)
    line = points_of(0.0014 * bench.picture.short_px)
    return {
        "text.parse_math": False,
        "text.color": ink,
        "font.family": [FontProperties(fname=theme.plain).get_name(), "DejaVu Sans"],
        "font.size": size,
        "axes.edgecolor": ink,
        "axes.labelcolor": ink,
        "axes.labelsize": size,
        "axes.facecolor": cream,
        "axes.linewidth": line,
        "axes.grid": True,
        "axes.axisbelow": True,
        "axes.titlesize": size,
        "axes.titlelocation": "left",
        "axes.titlepad": 0.5 * size,
        "axes.labelpad": 0.3 * size,
        "figure.facecolor": cream,
        "grid.color": mixed(theme.colours.engraving, theme.colours.cream, 0.45),
        "grid.linewidth": line,
        "legend.frameon": False,
        "legend.fontsize": size,
        "legend.handlelength": 1.6,
        "legend.borderaxespad": 0.3,
        "xtick.color": ink,
        "ytick.color": ink,
        "xtick.labelsize": size,
        "ytick.labelsize": size,
        "xtick.major.size": 0.35 * size,
        "ytick.major.size": 0.0,
        "xtick.major.width": line,
    }


def _texts(figure: Figure, height: int) -> tuple[tuple[str, Box], ...]:
    """Every text that is to be seen, with its box from the top left corner."""
    from matplotlib.text import Text

    beyond = _beyond(figure)
    found = []
    for text in figure.findobj(Text):
        assert isinstance(text, Text)
        if not text.get_visible() or not text.get_text().strip() or id(text) in beyond:
            continue
        box = text.get_window_extent()
        corner = round(box.x0), round(height - box.y1)
        found.append((text.get_text(), (*corner, round(box.width), round(box.height))))
    return tuple(found)


def _beyond(figure: Figure) -> set[int]:
    """The labels of ticks that lie beyond the ends of their axes, or have been switched off:
    matplotlib keeps them and does not draw them."""
    out: set[int] = set()
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            low, high = sorted(axis.get_view_interval())
            for tick in axis.get_major_ticks():
                inside = low <= tick.get_loc() <= high and tick.label1.get_visible()
                out |= {id(tick.label2)} if inside else {id(tick.label1), id(tick.label2)}
    return out
