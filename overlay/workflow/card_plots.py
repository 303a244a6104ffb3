"""The plots of cards: the report's points, curves and places as plain values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from overlay.errors import AnalysisError
from overlay.figures import unit_for
from overlay.graphics.cards.facts import Chart, ChartLine, ChartPoint, Stroke
from overlay.graphics.cards.prose import TIED
from overlay.report.columns import number
from overlay.report.plots.course import LEAST_SPREAD_M, STROKES, places
from overlay.report.plots.curves import (
    BARS_SD,
    Point,
    between,
    economy_points,
    speed_points,
    unbroken,
)
from overlay.report.run_tables import economy_unit, flow_note
from overlay.workflow.card_tables import ALL_BOTH
from sync.units import from_si

if TYPE_CHECKING:
    from overlay.analysis.results import Results
    from overlay.trial import Trial

COURSE_STROKES: Mapping[str, Stroke] = MappingProxyType(
    {"between": "thin", "step": "solid", "turn": "dotted", "launch": "strong", "stop": "dashed"}
)
"""By kind of run; the report draws the same kinds in the same order."""

SINGLE = "Open marks are single, with current and wind in them."
BARS = "Bars: two standard deviations."


def curve_charts(results: Results, trial: Trial) -> tuple[Chart, ...]:
    """Speed against engine speed, and economy against speed, as far as the steps have them.

    Raises
    ------
    AnalysisError
        Where they have neither.
    """
    made = (*_speed(results, trial), *_economy(results, trial))
    if not made:
        raise AnalysisError(
            "no step has both engine speed and speed, so that there is no curve",
            path=trial.material.sheet_path,
            advice="`trialreel check` says what is missing and why",
        )
    return made


def _speed(results: Results, trial: Trial) -> tuple[Chart, ...]:
    units = trial.sheet.units
    points = speed_points(results, units)
    if not points:
        return ()
    found = results.set_up.full_throttle
    band = None
    if found is not None:
        low, high = (rps * 60 for rps in found.rated_rps)
        band = low, high, "maker's band"
    title = f"speed, {unit_for('speed', units)}"
    return (_chart(title, "engine speed, rpm", points, {}, band=band, notes=()),)


def _economy(results: Results, trial: Trial) -> tuple[Chart, ...]:
    units = trial.sheet.units
    unit = economy_unit(units)[0]
    points = economy_points(results, units)
    if not points:
        return ()
    best, planing = results.set_up.best, results.set_up.best_planing
    also = "best, and on the plane" if best == planing else "best on the plane"
    names: dict[str | None, str] = {best: "best", planing: also}
    notes = []
    for one in points:
        if one.name in names:
            value = f"{number(one.y, one.y_sd)} {unit}".replace(" ", TIED)
            notes.append(f"Economy, {names[one.name]}: {value} at {one.name.replace(' ', TIED)}.")
    notes.append(flow_note(trial.flow.text))
    x_text = f"speed, {unit_for('speed', units)}"
    return (_chart(f"economy, {unit}", x_text, points, names, band=None, notes=notes),)


def _chart(
    title: str,
    x_text: str,
    points: Sequence[Point],
    names: Mapping[str | None, str],
    *,
    band: tuple[float, float, str] | None,
    notes: Sequence[str],
) -> Chart:
    """A curve of steps; the line as the report has it, open where she climbs onto the plane."""
    both = [point for point in points if point.both]
    lines = [between(part) for part in unbroken(both if len(both) > 1 else list(points))]
    return Chart(
        title=title,
        x_text=x_text,
        y_text="",
        lines=tuple(ChartLine(x=x, y=y) for x, y in lines if len(x)),
        points=tuple(
            ChartPoint(
                x=one.x, y=one.y, x_bar=BARS_SD * one.x_sd, y_bar=BARS_SD * one.y_sd,
                both=one.both, name=names.get(one.name, ""),
            )
            for one in points
        ),
        band=band,
        notes=(*notes, ALL_BOTH if len(both) == len(points) else SINGLE, BARS),
    )  # fmt: skip


def course_chart(results: Results, trial: Trial) -> Chart:
    """Where she went, in metres or feet from where the log begins; no place is shown.

    Raises
    ------
    AnalysisError
        Where no log has places, or she kept to one.
    """
    found = places(trial.channels)
    if found is None or not results.day:
        raise AnalysisError(
            "no log has places, so that there is no course", path=trial.material.sheet_path
        )
    if max(float(np.nanmax(m) - np.nanmin(m)) for m in (found.east_m, found.north_m)) < (
        LEAST_SPREAD_M
    ):
        raise AnalysisError(
            "she kept to one place, so that there is no course", path=trial.material.sheet_path
        )
    unit = unit_for("short_distance", trial.sheet.units)
    per_m = from_si(1.0, unit, "length")
    lines = []
    for kind, (*_, text) in STROKES.items():
        for stretch in results.day:
            if (stretch.kind if stretch.kind in STROKES else "between") != kind:
                continue
            # One place more than the stretch has, so that the line goes on.
            first, last = np.searchsorted(found.t_s, (stretch.span.start_s, stretch.span.stop_s))
            part = slice(int(first), int(last) + 1)
            lines.append(
                ChartLine(
                    x=found.east_m[part] * per_m,
                    y=found.north_m[part] * per_m,
                    stroke=COURSE_STROKES[kind],
                    text=text,
                )
            )
    return Chart(title="", x_text="", y_text=unit, lines=tuple(lines), plan=True)
