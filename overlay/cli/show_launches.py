"""How launches are printed: one table with their mean both ways, and a line on each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from overlay.cli.console import OUT, table
from overlay.figures import NO_VALUE, figure, seconds, unit_for, with_doubt
from overlay.workflow.checking.words import course, listed
from sync.clock import utc_text
from sync.units import from_si

if TYPE_CHECKING:
    from overlay.analysis.attitude import LaunchAttitude
    from overlay.analysis.both_ways import BothWays, TwoWayTime
    from overlay.analysis.launches import Launch


FEW = 2
"""So many launches have room for the doubt of each of their times."""


def launches(
    found: Sequence[Launch],
    headline: BothWays,
    attitudes: Sequence[LaunchAttitude],
    units: str,
) -> None:
    """All launches of a day in one table, a row for each speed of the ladder."""
    if not found:
        return
    left_out = dict(headline.left_out)
    made = table(
        "launches, from the start to",
        "speed",
        *(["both ways"] if headline.times else []),
        *(_heading(one, left_out) for one in found),
    )
    means = {row.label: row for row in headline.times}
    for label in _labels(found):
        both = [_mean(means.get(label))] if headline.times else []
        made.add_row(label, *both, *(_time(one, label, few=len(found) <= FEW) for one in found))
    OUT.print(made)
    OUT.print(_about(headline))
    for one, attitude in zip(found, attitudes, strict=True):
        OUT.print(f"{one.name}: {_told(one, units)}{_attitude(attitude, units)}")


def _heading(launch: Launch, left_out: dict[str, str]) -> str:
    way = course(launch.course_rad) if math.isfinite(launch.course_rad) else NO_VALUE
    mark = " *" if launch.name in left_out else ""
    return f"{launch.name}{mark}\n{way}"


def _labels(found: Sequence[Launch]) -> list[str]:
    """The ladder's speeds, the slowest first."""
    labels = {row.label: row.speed_mps for one in found for row in one.ladder}
    missed = [label for one in found for label, _ in one.missed]
    return [*sorted(labels, key=lambda label: labels[label]),
            *(label for label in dict.fromkeys(missed) if label not in labels)]  # fmt: skip


def _mean(row: TwoWayTime | None) -> str:
    if row is None:
        return NO_VALUE
    return f"{seconds(row.time_s.value, row.time_s.sd)} ± {row.time_s.sd:.2f}"


def _time(launch: Launch, label: str, *, few: bool) -> str:
    row = next((row for row in launch.ladder if row.label == label), None)
    if row is None:
        return NO_VALUE
    return f"{seconds(row.time_s, row.sd_s)}{f' ± {row.sd_s:.2f}' if few else ''}"


def _about(headline: BothWays) -> str:
    """What the mean both ways is of, or why there is none."""
    out = "; ".join(f"{name}: {why}" for name, why in headline.left_out)
    starred = f"\n  * not in a mean: {out}" if out else ""
    if not headline.times:
        return (
            "  one direction only: current and wind are in these times; ± is one standard "
            f"deviation{starred}"
        )
    last = headline.times[-1]
    return (
        f"  both ways: the mean of {listed(last.launches)}, the two directions counted "
        f"alike;\n  they lie up to {max(row.spread_s for row in headline.times):.2f} s apart; ± is "
        f"one standard deviation{starred}"
    )


def _told(launch: Launch, units: str) -> str:
    """How a launch began, and its peaks."""
    start = launch.start
    text = (
        f"{utc_text(start.t_s)} ± {start.sd_s:.3f} s, start from "
        f"{start.event.replace('_', ' ')}, before it {start.state}"
    )
    missed = "".join(f"; {label}: {why}" for label, why in launch.missed)
    if launch.broken:
        return f"{text}{missed}; the log of speed breaks off in it, so its peaks are not known"
    speed, pull = figure("speed", units), figure("acceleration", units)
    far = ""
    if launch.ladder:
        short, last = unit_for("short_distance", units), launch.ladder[-1]
        # The time's doubt, at the speed of the mark, is the distance's.
        doubt = from_si(last.speed_mps * last.sd_s, short, "length")
        distance = with_doubt(from_si(last.distance_m, short, "length"), doubt, short)
        far = f", {last.label} after {distance}"
    return (
        f"{text}{far}{missed}; ends at {speed.with_unit(launch.peak_speed_mps)}, which is no top "
        f"speed; peak acceleration {pull.with_unit(launch.peak_acceleration)}, mean "
        f"{pull.with_unit(launch.mean_acceleration)}"
    )


def _attitude(one: LaunchAttitude, units: str) -> str:
    """Bow rise and time to plane, where they can be said."""
    text = ""
    if one.bow_rise.known:
        degrees = with_doubt(math.degrees(one.bow_rise.value), math.degrees(one.bow_rise.sd), "")
        text += f"; bow rise {degrees.strip()}° after {one.peak_s:.1f} s"
    if one.plane_s.known:
        plane = seconds(one.plane_s.value, one.plane_s.sd)
        text += (
            f"; on the plane after {plane}, at {figure('speed', units).with_unit(one.plane_mps)}"
        )
        text += " (after 20 mph, though she planes at less)" if one.late else ""
    return text
