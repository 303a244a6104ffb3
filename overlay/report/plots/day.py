"""The day as a strip: speed from morning to evening, and below it what was found, lane by lane."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from overlay.figures import unit_for
from overlay.report.plots.drawing import Plot, draw
from sync.units import from_si

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from overlay.analysis.day import Stretch
    from overlay.analysis.results import Results
    from overlay.report.palette import Palette
    from overlay.trial import Trial

LANES: Mapping[str, tuple[str, str]] = {
    "launch": ("launches", "magenta"),
    "step": ("steps", "ink"),
    "turn": ("turns and stops", "engraving"),
    "stop": ("turns and stops", "magenta"),
    "astern": ("astern", "engraving"),
    "named": ("as named", "buff"),
    "idle": ("idle and rest", "shallow"),
    "rest": ("idle and rest", "shoal"),
    "hole": ("no speed logged", "magenta"),
}
"""By kind of stretch: its lane, and its colour. What is only the way has no box."""

MOST_POINTS = 1500


def day_plot(results: Results, trial: Trial) -> Plot | None:
    """The day's strip; None where no speed is logged."""
    speed = trial.channels.get("speed")
    if speed is None or speed.span is None or not results.day:
        return None
    unit, zone = unit_for("speed", trial.sheet.units), trial.sheet.time_zone or "UTC"
    lanes = list(dict.fromkeys(LANES[one.kind][0] for one in results.day if one.kind in LANES))
    lanes = [lane for lane in dict.fromkeys(name for name, _ in LANES.values()) if lane in lanes]
    start, stop = results.day[0].span.start_s, results.day[-1].span.stop_s

    def onto(figure: Figure, colours: Palette) -> None:
        above, below = figure.subplots(
            2, 1, sharex=True, height_ratios=(2.2, 0.32 * len(lanes) + 0.2)
        )
        t = np.linspace(start, stop, min(MOST_POINTS, int(stop - start) + 2))
        above.plot(t, speed.at(t) * from_si(1.0, unit, "speed"), color=colours.ink, linewidth=0.9)
        above.set_ylabel(f"speed, {unit}")
        above.set_ylim(bottom=0)
        for one in results.day:
            if one.kind in LANES:
                _box(below, one, lanes, colours)
        below.set_yticks(range(len(lanes)), lanes)
        below.set_ylim(len(lanes) - 0.4, -0.6)
        below.grid(visible=False, axis="y")
        below.set_xlabel(f"time of day, {zone}")
        below.set_xlim(start, stop)
        _hours(below, start, stop, zone)

    about = (
        "Speed over ground, and below it what was found in it. A hatched box is left out of the "
        "results, or not all that it might have told is in them; the table says why."
    )
    return draw("day", "The day", about, onto, size_in=(11.4, 3.6), wide=True)


def _box(axes: Axes, one: Stretch, lanes: list[str], colours: Palette) -> None:
    lane, colour = LANES[one.kind]
    axes.barh(
        lanes.index(lane), one.span.length_s, left=one.span.start_s, height=0.7,
        facecolor=colours.paper if one.left_out else getattr(colours, colour),
        edgecolor=colours.ink if not one.left_out else getattr(colours, colour),
        hatch="////" if one.left_out else None, linewidth=0.5,
    )  # fmt: skip


def _hours(axes: Axes, start_s: float, stop_s: float, zone: str) -> None:
    """Ticks at round times of the day."""
    length = stop_s - start_s
    step = next((s for s in (60, 120, 300, 600, 900, 1800, 3600, 7200) if length / s <= 11), 14400)
    offset = dt.datetime.fromtimestamp(start_s, tz=ZoneInfo(zone)).utcoffset() or dt.timedelta()
    first = np.ceil((start_s + offset.total_seconds()) / step) * step - offset.total_seconds()
    ticks = np.arange(first, stop_s, step)
    axes.set_xticks(ticks)
    axes.set_xticklabels(
        [f"{dt.datetime.fromtimestamp(tick, tz=ZoneInfo(zone)):%H:%M}" for tick in ticks.tolist()]
    )
