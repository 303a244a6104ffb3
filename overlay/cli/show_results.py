"""How results are printed: tables with units and uncertainty, then the definitions used."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import TYPE_CHECKING

from overlay.analysis.held import Held
from overlay.analysis.launches import Launch
from overlay.analysis.results import document
from overlay.cli.console import OUT, as_document, heading, lines, table
from overlay.figures import NO_VALUE, figure, round_half_up, seconds, unit_for, with_doubt
from sync.clock import utc_text
from sync.units import from_si

if TYPE_CHECKING:
    from overlay.workflow.results import ResultsOutcome


def results(outcome: ResultsOutcome, *, as_json: bool) -> None:
    """Print the results of a trial."""
    if as_json:
        as_document(document(outcome.results, outcome.trial))
        return
    sheet = outcome.trial.sheet
    heading(sheet.name)
    lines(
        "definitions",
        tuple(f"{title}: {text} ({source})" for title, text, source in outcome.results.definitions),
    )
    shown = {"speed", "engine_speed", "fuel_flow", "pitch"}
    lines(
        "how a value follows from its samples",
        tuple(f"{key}: {text}" for key, text in outcome.results.laws if key in shown),
    )
    lines("delays taken out", tuple(_delays(outcome)))
    lines("what is missing, and why", outcome.results.missing)
    for launch in outcome.results.launches:
        _launch(launch, sheet.units)
    for held in outcome.results.held:
        _held(held, sheet.units, sheet.reserve)


def _delays(outcome: ResultsOutcome) -> list[str]:
    out = []
    for key, log in outcome.trial.sources.items():
        channel = outcome.trial.channels[key]
        stated = {(s.log, s.channel): s.delay for s in outcome.trial.sheet.sensors}
        delay = stated.get((log, key))
        if delay is not None:
            out.append(f"{key} of {log}: {delay:g} s ± {channel.delay_sd_s:g} s")
        elif channel.delay_sd_s:
            out.append(f"{key} of {log}: not stated, so 0 s ± {channel.delay_sd_s:g} s")
    return out


def _launch(launch: Launch, units: str) -> None:
    start = launch.start
    course = NO_VALUE
    if math.isfinite(launch.course_rad):
        course = f"{round(math.degrees(launch.course_rad)) % 360:03d}°"
    heading(
        launch.name,
        f"{utc_text(start.t_s)} ± {start.sd_s:.3f} s, before it {start.state}; start from "
        f"{start.event.replace('_', ' ')}, course {course}, one direction only",
    )
    made = table("from the start to", "speed", "time", "± (1 sd)", "distance")
    short = unit_for("short_distance", units)
    for row in launch.ladder:
        distance = from_si(row.distance_m, short, "length")
        # The time's doubt, at the speed of the mark, is the distance's.
        doubt = from_si(row.speed_mps * row.sd_s, short, "length")
        made.add_row(
            row.label,
            seconds(row.time_s, row.sd_s),
            f"{row.sd_s:.3f} s",
            with_doubt(distance, doubt, short),
        )
    for label, why in launch.missed:
        made.add_row(label, NO_VALUE, "", why)
    OUT.print(made)
    if launch.broken:
        OUT.print("  the log of speed breaks off in this launch, so its peaks are not known")
        return
    speed = figure("speed", units)
    pull = figure("acceleration", units)
    OUT.print(
        f"  the launch ends at {speed.with_unit(launch.peak_speed_mps)}, which is no top speed; "
        f"peak acceleration {pull.with_unit(launch.peak_acceleration)}, "
        f"mean {pull.with_unit(launch.mean_acceleration)}"
    )


def _held(held: Held, units: str, reserve: float) -> None:
    distance, volume = unit_for("distance", units), unit_for("volume", units)
    speed_unit, flow_unit = unit_for("speed", units), unit_for("volume_flow", units)
    # Speed and flow both vary; what is worked out of them is as doubtful as both together.
    doubt = math.hypot(held.speed_sd_mps / held.speed_mps, held.fuel_flow_sd / held.fuel_flow)
    per_volume = held.economy.per_volume_m / from_si(1.0, volume, "volume")
    economy = from_si(per_volume, distance, "length")
    reach = from_si(held.economy.range_m, distance, "length")
    made = table(
        f"held after {held.launch}: {held.span.length_s:.0f} s in one direction",
        "",
        "",
        "± (varied by, 1 sd)",
    )
    made.add_row(
        "speed",
        figure("speed", units).with_unit(held.speed_mps),
        f"{from_si(held.speed_sd_mps, speed_unit):.2f} {speed_unit}",
    )
    made.add_row("engine speed", figure("engine_speed", units).with_unit(held.engine_speed_rps), "")
    made.add_row(
        "fuel flow",
        figure("fuel_flow", units).with_unit(held.fuel_flow),
        f"{from_si(held.fuel_flow_sd, flow_unit):.2f} {flow_unit}"
        if math.isfinite(held.fuel_flow)
        else "",
    )
    made.add_row("economy", with_doubt(economy, doubt * economy, f"{distance}/{volume}"), "")
    made.add_row(f"range less {reserve:.0%}", with_doubt(reach, doubt * reach, distance), "")
    made.add_row("endurance", hours_and_minutes(held.economy.endurance_s), "")
    OUT.print(made)
    OUT.print("  range is for comparison only, and never a passage plan; flow is engine-reported")


def hours_and_minutes(duration_s: float) -> str:
    """A duration to the nearest minute: `7 h 36 min`."""
    if not math.isfinite(duration_s):
        return NO_VALUE
    minutes = int(round_half_up(duration_s / 60, Decimal(1)))
    return f"{minutes // 60} h {minutes % 60:02d} min"
