"""Where the boat went in the day, in metres from where her log begins: a plot without a place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from overlay.figures import unit_for
from overlay.report.plots.drawing import WIDTH_IN, Plot, draw
from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span
from sync.units import from_si

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from overlay.analysis.results import Results
    from overlay.report.palette import Palette
    from overlay.trial import Trial

STEP_S = 1.0
LEAST_SPREAD_M = 20.0
"""A boat that keeps within this has been nowhere."""

STROKES: Mapping[str, tuple[str, float, Any, str]] = {
    "between": ("ink", 0.5, "-", "between the runs"),
    "step": ("ink", 2.0, "-", "steps"),
    "turn": ("ink", 2.0, (0, (1.0, 0.7)), "turns"),
    "launch": ("magenta", 2.6, "-", "launches"),
    "stop": ("magenta", 2.6, (0, (2.2, 1.4)), "stops"),
}
"""By kind of run: colour, width, stroke, name; what comes later is drawn above."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Places:
    """Where the boat was [shape of each: (n,)]: s of UTC, m east and north; NaN in holes."""

    t_s: Floats
    east_m: Floats
    north_m: Floats


def places(channels: Mapping[str, Channel]) -> Places | None:
    """The boat's places once a second, from the first of them; None where none are logged.

    By geodesics on the WGS 84 ellipsoid (pyproj).
    """
    latitude, longitude = channels.get("latitude"), channels.get("longitude")
    if latitude is None or longitude is None or latitude.span is None:
        return None
    from pyproj import Geod

    t = np.arange(latitude.span.start_s, latitude.span.stop_s, STEP_S)
    north, east = latitude.at(t), longitude.at(t)
    good = np.isfinite(north) & np.isfinite(east)
    if np.count_nonzero(good) < 2:
        return None
    first = int(np.flatnonzero(good)[0])
    begin = (
        np.full(np.count_nonzero(good), east[first]),
        np.full(np.count_nonzero(good), north[first]),
    )
    bearing, _, far = Geod(ellps="WGS84").inv(*begin, east[good], north[good])
    angle = np.radians(np.asarray(bearing, dtype=np.float64))
    x, y = np.full(t.size, np.nan), np.full(t.size, np.nan)
    x[good], y[good] = far * np.sin(angle), far * np.cos(angle)
    return Places(t_s=t, east_m=x, north_m=y)


def course_plot(results: Results, trial: Trial) -> Plot | None:
    """The day's course, each run in the stroke of its kind."""
    found = places(trial.channels)
    if found is None or not results.day:
        return None
    wide, high = (float(np.nanmax(m) - np.nanmin(m)) for m in (found.east_m, found.north_m))
    size = max(wide, high)
    if size < LEAST_SPREAD_M:
        return None
    unit = unit_for("short_distance", trial.sheet.units)
    per_m = from_si(1.0, unit, "length")
    # As tall as the course asks for, with room for the key beneath it.
    tall_in = 1.4 + 4.3 * min(max(high / max(wide, 1.0), 0.45), 1.1)

    def onto(figure: Figure, colours: Palette) -> None:
        axes = figure.add_subplot()
        axes.set_facecolor(colours.shoal)
        named = set()
        for kind, (colour, width, stroke, text) in STROKES.items():
            for stretch in results.day:
                if _stroke_of(stretch.kind) != kind:
                    continue
                x, y = _part(found, stretch.span)
                axes.plot(
                    x * per_m, y * per_m, color=getattr(colours, colour), linewidth=width,
                    linestyle=stroke, label=None if kind in named else text, solid_capstyle="round",
                )  # fmt: skip
                named.add(kind)
        axes.plot(0, 0, "s", ms=5, color=colours.ink, label="the log begins")
        axes.set_aspect("equal", adjustable="datalim")
        axes.locator_params(nbins=6)
        axes.set_xlabel(f"east, {unit}")
        axes.set_ylabel(f"north, {unit}")
        axes.margins(0.09)
        _scale_bar(axes, unit, size * per_m, colours)
        figure.legend(loc="outside lower center", ncols=3)

    about = "Places from where the log begins, north up. Each kind of run has a stroke of its own."
    return draw("course", "Where she went", about, onto, size_in=(WIDTH_IN, tall_in))


def _stroke_of(kind: str) -> str:
    return kind if kind in STROKES else "between"


def _part(found: Places, span: Span) -> tuple[Floats, Floats]:
    """The places of a stretch, with the next one, so that the line goes on."""
    first = int(np.searchsorted(found.t_s, span.start_s, side="left"))
    last = int(np.searchsorted(found.t_s, span.stop_s, side="left")) + 1
    return found.east_m[first:last], found.north_m[first:last]


def _scale_bar(axes: Axes, unit: str, size: float, colours: Palette) -> None:
    """A bar in black and white, as a chart has it: a round number of the axes' unit."""
    wanted = size / 4
    power = 10 ** np.floor(np.log10(wanted))
    length = float(max(step * power for step in (1, 2, 5) if step * power <= wanted))
    axes.autoscale_view()
    left, right = axes.get_xlim()
    low, high = axes.get_ylim()
    x, y, tall = left + 0.04 * (right - left), low + 0.04 * (high - low), 0.012 * (high - low)
    for part in range(4):
        axes.add_patch(_box(x + part * length / 4, y, length / 4, tall, part, colours))
    axes.annotate(
        f"{length:g} {unit}", (x + length, y), xytext=(5, -1), textcoords="offset points",
        fontsize=10,
    )  # fmt: skip


def _box(x: float, y: float, wide: float, tall: float, number: int, colours: Palette) -> Any:
    from matplotlib.patches import Rectangle

    fill = colours.paper if number % 2 else colours.ink
    return Rectangle((x, y), wide, tall, fc=fill, ec=colours.ink, lw=0.7, zorder=5)
