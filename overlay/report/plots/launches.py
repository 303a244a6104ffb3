"""Launches over time: how fast she went, and how her bow rose."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from overlay.analysis.attitude import SMOOTHED_S
from overlay.analysis.smoothing import fit, law_for
from overlay.figures import unit_for
from overlay.report.plots.drawing import STROKES, Plot, draw, drawable, scale_border
from overlay.report.words import course
from sync.arrays import Floats
from sync.units import from_si

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from overlay.analysis.launches import Launch
    from overlay.analysis.results import Results
    from overlay.report.palette import Palette
    from overlay.trial import Trial

BEFORE_S, AFTER_S, STEP_S = 2.0, 4.0, 0.05
MOST_SHOWN = 8
"""More lines than this nobody can follow; the rest stands in the table."""


def launch_plots(results: Results, trial: Trial) -> tuple[Plot, ...]:
    """Speed and bow angle against time, for what is logged of them."""
    made = (speed_plot(results, trial), bow_plot(results, trial))
    return tuple(plot for plot in made if plot is not None)


def _grid(launches: Sequence[Launch]) -> Floats:
    longest = max(launch.span.length_s for launch in launches)
    return np.arange(-BEFORE_S, longest + AFTER_S, STEP_S)


def _named(launch: Launch) -> str:
    return f"{drawable(launch.name)}, {course(launch.course_rad)}"


def speed_plot(results: Results, trial: Trial) -> Plot | None:
    """Speed against the time from the start of each launch, the ladder's speeds marked."""
    launches, channel = results.launches[:MOST_SHOWN], trial.channels.get("speed")
    if not launches or channel is None:
        return None
    unit = unit_for("speed", trial.sheet.units)

    def onto(figure: Figure, colours: Palette) -> None:
        axes = figure.add_subplot()
        t = _grid(launches)
        for number, launch in enumerate(launches):
            shown = fit(channel, launch.start.t_s + t, law_for(channel, trial.channels)).values
            _line(axes, t, _in(shown, unit), number, _named(launch), colours)
            rows = launch.ladder
            axes.plot(
                [row.time_s for row in rows], _in([row.speed_mps for row in rows], unit),
                "D", ms=4, color=colours.magenta, mec=colours.paper, mew=0.6, zorder=4,
            )  # fmt: skip
        axes.set_ylabel(f"speed, {unit}")
        _finish(axes, t, colours)
        axes.set_ylim(bottom=0)

    about = (
        "Speed over ground of each launch singly, current and wind in it, from its start at 0 s. "
        "Diamonds mark where it passed the ladder's speeds."
    )
    return draw("launch_speed", "Speed in the launches", about, onto)


def bow_plot(results: Results, trial: Trial) -> Plot | None:
    """Pitch less its level in the rest before each launch, against time."""
    channel = trial.channels.get("pitch")
    pairs = zip(results.launches, results.attitudes, strict=True)
    known = [(launch, one) for launch, one in pairs if one.level.known][:MOST_SHOWN]
    if not known or channel is None:
        return None

    def onto(figure: Figure, colours: Palette) -> None:
        axes = figure.add_subplot()
        t = _grid([launch for launch, _ in known])
        width = max(1, round(SMOOTHED_S / STEP_S))
        for number, (launch, one) in enumerate(known):
            angle = channel.at(launch.start.t_s + t) - one.level.value
            smooth = np.convolve(angle, np.full(width, 1 / width), mode="same")
            smooth[: width // 2 + 1] = smooth[-(width // 2 + 1) :] = np.nan
            _line(axes, t, np.degrees(smooth), number, _named(launch), colours)
            if one.plane_s.known:
                at = float(np.interp(one.plane_s.value, t, np.degrees(smooth)))
                axes.plot(
                    one.plane_s.value, at, "v", ms=7, color=colours.magenta, mec=colours.paper,
                    mew=0.6, zorder=4,
                )  # fmt: skip
        axes.axhline(0, color=colours.ink, linewidth=0.7)
        axes.set_ylabel("bow angle, °")
        _finish(axes, t, colours)

    about = (
        "Pitch as a mean over 0.3 s, less its level in the rest before that launch. Triangles "
        "mark where she is on the plane."
    )
    return draw("bow_angle", "Bow angle in the launches", about, onto)


def _in(values_mps: Floats | Sequence[float], unit: str) -> Floats:
    return np.asarray(values_mps, dtype=np.float64) * from_si(1.0, unit, "speed")


def _line(axes: Axes, t: Floats, values: Floats, number: int, text: str, colours: Palette) -> None:
    """One launch: the first four in ink, those after them in the engraving's grey."""
    colour = (colours.ink, colours.engraving)[number // len(STROKES) % 2]
    axes.plot(
        t, values, color=colour, linestyle=STROKES[number % len(STROKES)], linewidth=1.3,
        label=text,
    )  # fmt: skip


def _finish(axes: Axes, t: Floats, colours: Palette) -> None:
    axes.axvline(0, color=colours.magenta, linewidth=0.9)
    axes.set_xlim(float(t[0]), float(t[-1]))
    axes.set_xlabel("time from the start, s")
    axes.legend(loc="best", ncols=1)
    scale_border(axes, colours)
