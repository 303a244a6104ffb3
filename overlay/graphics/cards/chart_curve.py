"""Curves of steps: lines and points on two axes, the scale of a chart's border at the foot."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from overlay.figures import plain, round_half_up
from overlay.graphics.cards.facts import Chart, ChartPoint
from overlay.graphics.cards.strokes import SCALE, css, draw_lines, mixed, points_of, strong

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from overlay.graphics.cards.base import CardBench


def draw_curve(axes: Axes, chart: Chart, bench: CardBench) -> None:
    """Lines and points on two axes that begin where their values do."""
    axes.set_title(chart.title, fontproperties=strong(bench))
    axes.set_xlabel(chart.x_text)
    axes.set_ylabel(chart.y_text)
    _band(axes, chart, bench)
    draw_lines(axes, chart, bench)
    _marks(axes, chart.points, bench)
    axes.margins(x=0.06, y=0.16)
    axes.autoscale_view()
    low = axes.get_ylim()[0]
    axes.set_ylim(bottom=low if any(point.y < 0 for point in chart.points) else 0.0)
    for axis, most in ((axes.xaxis, 5), (axes.yaxis, 5)):
        _ticks(axis, most)
    if not all(point.both for point in chart.points):
        axes.legend(loc="best")


def _ticks(axis: Any, most: int) -> None:
    """Round numbers at an axis, written as figures are everywhere."""
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    locator = MaxNLocator(nbins=most, steps=[1, 2, 5, 10], min_n_ticks=3)
    axis.set_major_locator(locator)
    found = locator.tick_values(*axis.get_view_interval())
    apart = min((b - a for a, b in pairwise(found)), default=1.0)
    step = Decimal(1) if apart >= 1 else Decimal(10) ** Decimal(f"{apart:e}".partition("e")[2])

    def text(value: float, _place: int | None) -> str:
        return plain(round_half_up(value, step), step)

    axis.set_major_formatter(FuncFormatter(text))


def _band(axes: Axes, chart: Chart, bench: CardBench) -> None:
    if chart.band is None:
        return
    low, high, text = chart.band
    colours = bench.theme.colours
    axes.axvspan(low, high, color=mixed(colours.buff, colours.cream, 0.35), linewidth=0, zorder=0)
    # Beside it on the left, at the top: a boat's curve is still low there.
    pad = -0.5 * points_of(bench.face("text").size_px)
    axes.annotate(
        text, (low, 0.97), xycoords=("data", "axes fraction"), ha="right", va="top",
        xytext=(pad, 0), textcoords="offset points", annotation_clip=False,
    )  # fmt: skip


def _marks(axes: Axes, points: tuple[ChartPoint, ...], bench: CardBench) -> None:
    colours = bench.theme.colours
    ink, cream, magenta = (css(c) for c in (colours.ink, colours.cream, colours.magenta))
    unit = points_of(bench.picture.short_px)
    for mark, fill, text, some in (
        ("o", ink, "both ways", [p for p in points if p.both]),
        ("^", cream, "single", [p for p in points if not p.both]),
    ):
        if some:
            axes.errorbar(
                [p.x for p in some], [p.y for p in some], xerr=[p.x_bar for p in some],
                yerr=[p.y_bar for p in some], fmt=mark, ms=0.013 * unit, color=ink, mfc=fill,
                mec=ink, mew=0.002 * unit, elinewidth=0.002 * unit, capsize=0.004 * unit,
                label=text, zorder=3,
            )  # fmt: skip
    low, high = axes.get_xlim()
    for point in points:
        if not point.name:
            continue
        share = (point.x - low) / (high - low)
        side = "left" if share < 0.3 else "right" if share > 0.7 else "center"
        away = 0.018 * unit
        axes.plot(point.x, point.y, "o", ms=0.024 * unit, mfc="none", mec=magenta,
                  mew=0.003 * unit, zorder=4)  # fmt: skip
        axes.annotate(
            point.name, (point.x, point.y), textcoords="offset points", ha=side,
            va="center" if side == "left" else "bottom", color=magenta, linespacing=1.05, zorder=5,
            xytext={"left": (1.3 * away, 0.0), "right": (0.0, away), "center": (0.0, away)}[side],
        )  # fmt: skip


def draw_foot(axes: Axes, bench: CardBench, size: tuple[int, int]) -> None:
    """The scale of a chart's border along the foot, its parts from tick to tick."""
    low, high = axes.get_xlim()
    share = SCALE * bench.picture.short_px / (axes.get_position().height * size[1])
    ink, cream = css(bench.theme.colours.ink), css(bench.theme.colours.cream)
    edges = [low, *(tick for tick in axes.get_xticks() if low < tick < high), high]
    for number, (left, right) in enumerate(pairwise(edges)):
        axes.axvspan(
            left, right, ymin=0, ymax=share, zorder=6, linewidth=0.6, edgecolor=ink,
            facecolor=ink if number % 2 else cream, clip_on=False,
        )  # fmt: skip
    axes.set_xlim(low, high)
