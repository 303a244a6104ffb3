"""A course on shallow water: one scale both ways, north up, and no number but the scale bar's."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from overlay.figures import plain, round_half_up, step_for
from overlay.graphics.cards.facts import Chart
from overlay.graphics.cards.strokes import SCALE, css, draw_lines, mixed, strong

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from overlay.graphics.cards.base import CardBench


def draw_plan(axes: Axes, chart: Chart, bench: CardBench) -> None:
    """A course on shallow water: one scale both ways, and no numbers but the scale bar's."""
    colours = bench.theme.colours
    axes.set_facecolor(mixed(colours.shallow, colours.cream, 0.45))
    draw_lines(axes, chart, bench)
    axes.set_label(chart.y_text)
    axes.set_aspect("equal", adjustable="datalim")
    axes.margins(0.09)
    axes.tick_params(length=0, labelleft=False, labelbottom=False)


def draw_border(axes: Axes, bench: CardBench, size: tuple[int, int]) -> None:
    """Border, scale bar and north of a plan, once it is known how large it is."""
    from matplotlib.patches import Rectangle

    ink, cream = css(bench.theme.colours.ink), css(bench.theme.colours.cream)
    left, right = axes.get_xlim()
    low, high = axes.get_ylim()
    box = axes.get_position()
    per_px = (right - left) / (box.width * size[0])
    band = SCALE * bench.picture.short_px * per_px
    length = _round_length((right - left) / 4)
    xs, ys = (_edges(*span, length / 2) for span in ((left, right), (low, high)))
    parts = [(a, edge, b - a, band, n) for n, (a, b) in enumerate(pairwise(xs))
             for edge in (low, high - band)]  # fmt: skip
    parts += [(edge, a, band, b - a, n) for n, (a, b) in enumerate(pairwise(ys))
              for edge in (left, right - band)]  # fmt: skip
    # Bar and arrow stand clear of the border, in the corners where the boat was least.
    x = right - 4 * band - length if _busier_left(axes, upper=False) else left + 4 * band
    y = low + 4 * band
    parts += [(x + n * length / 4, y, length / 4, band, n) for n in range(4)]
    for px, py, wide, tall, n in parts:
        axes.add_patch(Rectangle((px, py), wide, tall, fc=cream if n % 2 else ink, ec=ink,
                                 lw=0.8, zorder=6))  # fmt: skip
    step = step_for(length / 10, Decimal("0.01"))
    text = f"{plain(round_half_up(length, step), step)} {axes.get_label()}".strip()
    axes.text(x + length / 2, y + 1.8 * band, text, ha="center", va="bottom", zorder=6)
    at = right - 5 * band if _busier_left(axes, upper=True) else left + 5 * band
    axes.annotate("", (at, high - 4 * band), (at, high - 11 * band), zorder=6, arrowprops={
        "arrowstyle": "-|>", "color": ink, "lw": 0.003 * bench.picture.short_px, "shrinkA": 0,
        "shrinkB": 0, "mutation_scale": 0.03 * bench.picture.short_px})  # fmt: skip
    axes.text(at, high - 12 * band, "N", ha="center", va="top", fontproperties=strong(bench),
              zorder=6)  # fmt: skip
    axes.set_xlim(left, right)
    axes.set_ylim(low, high)


def _busier_left(axes: Axes, *, upper: bool) -> bool:
    """Whether lines spend more of their points in the left corner than in the right one."""
    points = np.concatenate([line.get_xydata() for line in axes.get_lines()])
    shares = axes.transAxes.inverted().transform(axes.transData.transform(points))
    x, y = shares[:, 0], shares[:, 1] if not upper else 1 - shares[:, 1]
    corner = y < 0.3
    return bool(np.sum(corner & (x < 0.4)) > np.sum(corner & (x > 0.6)))


def _edges(low: float, high: float, part: float) -> list[float]:
    """Both ends of a stretch and the multiples of a part between them."""
    inner = np.arange(np.ceil(low / part), np.floor(high / part) + 1) * part
    return [low, *(float(edge) for edge in inner if low < edge < high), high]


def _round_length(most: float) -> float:
    """The greatest of 1, 2 and 5 with noughts that is not longer."""
    power = 10.0 ** np.floor(np.log10(most))
    return float(max(step * power for step in (1, 2, 5) if step * power <= most * (1 + 1e-9)))
