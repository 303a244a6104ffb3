"""Steps as curves: speed against engine speed, economy against speed.

The points are the steps, with two standard deviations as bars; the line between them is a
monotone interpolation, which makes no hump that no step has; it ends where the steps end, and is
open between two of which nobody knows how she gets from one to the other.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.analysis.curves import WIDEST_GAP, curve_through
from overlay.analysis.means import Mean
from overlay.figures import unit_for
from overlay.report.columns import number
from overlay.report.plots.drawing import Plot, draw, scale_border
from overlay.report.run_tables import economy_unit, flow_note
from sync.arrays import Floats
from sync.units import from_si

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from overlay.analysis.results import Results
    from overlay.report.palette import Palette
    from overlay.trial import Trial

BARS_SD = 2.0
ABOUT = (
    "Filled circles are steps run both ways, current and wind taken out; open triangles are "
    "single, with current and wind in them. Bars are two standard deviations, where they are "
    "larger than the mark. The line is a monotone interpolation between steps: it ends with them, "
    "and is left open where the boat climbs onto the plane between two."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One step in the units of its axes, with its deviations, and its speed [m/s]."""

    name: str
    x: float
    y: float
    x_sd: float
    y_sd: float
    both: bool
    speed_mps: float = math.nan


def curve_plots(results: Results, trial: Trial) -> tuple[Plot, ...]:
    """The curves that the steps give."""
    units = trial.sheet.units
    made = (
        speed_curve(results, units),
        economy_curve(results, units, flow_note(trial.flow.text)),
    )
    return tuple(plot for plot in made if plot is not None)


def between(points: Sequence[Point], count: int = 200) -> tuple[Floats, Floats]:
    """The line through points by the curve of the results; empty through fewer than two."""
    curve = curve_through([(point.x, Mean(value=point.y, sd=point.y_sd)) for point in points])
    if curve is None:
        return np.empty(0), np.empty(0)
    x = np.linspace(float(curve.x[0]), float(curve.x[-1]), count)
    return x, curve.at(x)


def unbroken(points: Sequence[Point]) -> list[list[Point]]:
    """The points by rising x, parted where the boat climbs onto the plane between two."""
    parts: list[list[Point]] = []
    for point in sorted(points, key=lambda one: one.x):
        if parts and not point.speed_mps > WIDEST_GAP * parts[-1][-1].speed_mps:
            parts[-1].append(point)
        else:
            parts.append([point])
    return parts


def speed_points(results: Results, units: str) -> list[Point]:
    """Engine speed in rpm and speed of every step that has both."""
    unit = unit_for("speed", units)
    return [
        Point(
            name=step.name,
            x=step.engine_speed.value * 60,
            y=from_si(step.speed.value, unit, "speed"),
            x_sd=step.engine_speed.sd * 60,
            y_sd=from_si(step.speed.sd, unit, "speed"),
            both=step.ways == "both",
            speed_mps=step.speed.value,
        )
        for step in results.steps
        if step.engine_speed.known and step.speed.known
    ]


def economy_points(results: Results, units: str) -> list[Point]:
    """Speed and distance per volume of every step that has both."""
    unit, (_, factor) = unit_for("speed", units), economy_unit(units)
    return [
        Point(
            name=step.name,
            x=from_si(step.speed.value, unit, "speed"),
            y=step.economy.per_volume_m.value * factor,
            x_sd=from_si(step.speed.sd, unit, "speed"),
            y_sd=step.economy.per_volume_m.sd * factor,
            both=step.ways == "both",
            speed_mps=step.speed.value,
        )
        for step in results.steps
        if step.economy.per_volume_m.known
    ]


def trim_points(results: Results, units: str) -> list[Point]:
    """Speed and running trim of every step that has both."""
    unit = unit_for("speed", units)
    return [
        Point(
            name=step.name,
            x=from_si(step.speed.value, unit, "speed"),
            y=math.degrees(more.trim.value),
            x_sd=from_si(step.speed.sd, unit, "speed"),
            y_sd=math.degrees(more.trim.sd),
            both=step.ways == "both",
            speed_mps=step.speed.value,
        )
        for step, more in zip(results.steps, results.set_up.steps, strict=True)
        if step.speed.known and more.trim.known
    ]


def trim_curve(results: Results, units: str) -> Plot | None:
    """Running trim against speed."""
    points = trim_points(results, units)
    if not points:
        return None

    def onto(figure: Figure, colours: Palette) -> None:
        axes = figure.add_subplot()
        axes.set_xlabel(f"speed, {unit_for('speed', units)}")
        axes.set_ylabel("running trim, °, bow up")
        _points(axes, points, colours)

    about = f"Pitch at each step less its level in the rest before it. {ABOUT}"
    return draw("trim_curve", "Running trim against speed", about, onto)


def speed_curve(results: Results, units: str) -> Plot | None:
    """Speed against engine speed, with the maker's band where it is stated."""
    points = speed_points(results, units)
    if not points:
        return None
    found = results.set_up.full_throttle

    def onto(figure: Figure, colours: Palette) -> None:
        axes = figure.add_subplot()
        if found is not None:
            low, high = (rps * 60 for rps in found.rated_rps)
            axes.axvspan(low, high, color=colours.sand, linewidth=0, zorder=0)
            axes.annotate(
                "maker's band at\nfull throttle", ((low + high) / 2, 0.05),
                xycoords=("data", "axes fraction"), ha="center", fontsize=10,
            )  # fmt: skip
        axes.set_xlabel("engine speed, rpm")
        axes.set_ylabel(f"speed, {unit_for('speed', units)}")
        _points(axes, points, colours)

    return draw("speed_curve", "Speed against engine speed", ABOUT, onto)


def economy_curve(results: Results, units: str, flow_from: str) -> Plot | None:
    """Economy against speed, the best step and the best on the plane named."""
    points = economy_points(results, units)
    if not points:
        return None
    set_up = results.set_up
    named = {set_up.best: "best", set_up.best_planing: "best on the plane"}
    if set_up.best == set_up.best_planing:
        named = {set_up.best: "best, and on the plane"}

    def onto(figure: Figure, colours: Palette) -> None:
        axes = figure.add_subplot()
        axes.set_xlabel(f"speed, {unit_for('speed', units)}")
        axes.set_ylabel(f"economy, {economy_unit(units)[0]}")
        _points(axes, points, colours)
        low, high = axes.get_xlim()
        for point in points:
            if point.name in named:
                _named(axes, point, named[point.name], (point.x - low) / (high - low), colours)

    about = f"{ABOUT} {flow_from}"
    return draw("economy_curve", "Economy against speed", about, onto)


def _named(axes: Axes, point: Point, text: str, share: float, colours: Palette) -> None:
    """A ring about a point and its name above it, on the side where there is room."""
    side = "left" if share < 0.3 else "right" if share > 0.7 else "center"
    axes.annotate(
        f"{text}: {number(point.y, point.y_sd)} at {point.name}",
        (point.x, point.y),
        xytext={"left": (9, 6), "right": (-9, 6), "center": (0, 10)}[side],
        textcoords="offset points",
        ha=side,
        color=colours.magenta,
        fontsize=10,
    )
    axes.plot(point.x, point.y, "o", ms=11, mfc="none", mec=colours.magenta, mew=1.4)


def _points(axes: Axes, points: Sequence[Point], colours: Palette) -> None:
    both = [point for point in points if point.both]
    for part in unbroken(both if len(both) > 1 else points):
        axes.plot(*between(part), color=colours.ink, linewidth=1.3)
    for some, mark, fill, text in (
        (both, "o", colours.ink, "both ways"),
        ([p for p in points if not p.both], "^", colours.paper, "single"),
    ):
        if some:
            axes.errorbar(
                [p.x for p in some], [p.y for p in some],
                xerr=[BARS_SD * p.x_sd for p in some], yerr=[BARS_SD * p.y_sd for p in some],
                fmt=mark, ms=5.5, color=colours.ink, mfc=fill, mec=colours.ink, elinewidth=0.9,
                capsize=2.5, label=text,
            )  # fmt: skip
    axes.margins(x=0.06, y=0.12)
    axes.autoscale_view()
    axes.set_ylim(bottom=min(0.0, axes.get_ylim()[0] if min(p.y for p in points) < 0 else 0.0))
    axes.legend(loc="best")
    scale_border(axes, colours)
