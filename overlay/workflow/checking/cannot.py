"""Figures that this day cannot give, each with the reason."""

from __future__ import annotations

from collections.abc import Sequence

from overlay.analysis.results import Results
from overlay.delays import LAGGING
from overlay.report.words import course, time_of_day
from overlay.trial import Trial
from overlay.workflow.checking.model import LogReport, RunReport
from overlay.workflow.checking.passes import lone_launches, lone_steps
from overlay.workflow.checking.words import listed
from sync.clock import Span

_WANTED = (
    ("speed", "speed, launches and every figure that rests on them"),
    ("engine_speed", "engine speed and slip"),
    ("fuel_flow", "fuel flow, economy and range"),
    ("pitch", "bow angle and running trim"),
)

TENTHS_HZ = 5.0
"""A launch's marks are read to a tenth of a second from five speeds a second or more; below
that straight lines between them miss how speed bends (own choice)."""


def cannot_be_had(
    trial: Trial, results: Results, runs: Sequence[RunReport], logs: Sequence[LogReport]
) -> tuple[str, ...]:
    """One line for every figure that will be missing, or less than it could be."""
    lines = [
        *_channels(trial),
        *_sheet(trial),
        *_directions(runs),
        *_holes(trial, runs),
        *_delays(logs),
    ]
    known = ("range: the sheet", "launches: no log", "economy: no fuel flow")
    # Results say the rest; what stands above in other words is left out.
    lines += [line for line in results.missing if not line.startswith(known)]
    return tuple(dict.fromkeys(lines))


def _channels(trial: Trial) -> list[str]:
    logs = trial.material.logs
    lines = []
    for key, figure in _WANTED:
        holders = [name for name, log in logs.items() if key in log.channels]
        if not holders:
            lines.append(f"{figure}: no log has the channel {key!r}")
        elif key not in trial.channels:
            lines.append(f"{figure}: {key} is in the log {holders[0]!r}, which has no tie")
    speed = trial.channels.get("speed")
    if speed is not None and speed.means == "differenced":
        lines.append(
            f"any headline figure: speed in {trial.sources['speed']!r} is differenced from "
            "places, not measured"
        )
    elif speed is not None and speed.period_s > 1 / TENTHS_HZ:
        lines.append(
            f"launch times to a tenth: speed in {trial.sources['speed']!r} comes at "
            f"{1 / speed.period_s:.1f} Hz, and five a second are the least"
        )
    return lines


def _sheet(trial: Trial) -> list[str]:
    sheet, there = trial.sheet, trial.channels
    lines = []
    if "fuel_flow" in there and sheet.load.usable_tank is None:
        lines.append("range and endurance: the sheet has no load.usable_tank")
    if "engine_speed" in there and not any(engine.rated_rpm for engine in sheet.engines):
        lines.append("engine speed against its rated band: the sheet has no engines.rated_rpm")
    if "engine_speed" in there and sheet.propeller.pitch is None:
        lines.append("slip: the sheet has no propeller.pitch")
    return lines


def _directions(runs: Sequence[RunReport]) -> list[str]:
    lines = []
    launches = lone_launches(runs)
    if launches:
        ways = listed(dict.fromkeys(course(run.course_rad) for run in launches))
        lines.append(f"launch times free of current and wind: all launches went one way ({ways})")
    steps = lone_steps(runs)
    if steps:
        told = listed((f"{run.name} ({course(run.course_rad)})" for run in steps), most=8)
        lines.append(f"two-way means: {told} have no pass the other way")
    return lines


def _holes(trial: Trial, runs: Sequence[RunReport]) -> list[str]:
    """Holes of what a run is measured by, inside that run."""
    zone = trial.sheet.time_zone or "UTC"
    lines = []
    for run in runs:
        for key in ("speed", "engine_speed", "pitch"):
            channel = trial.channels.get(key)
            if run.kind != "launch" or channel is None:
                continue
            inside = [both for hole in channel.holes() if (both := hole.overlap(run.span))]
            if inside:
                lines.append(f"{run.name}: {key} has {_hole(inside, zone)} in it")
    return lines


def _hole(inside: Sequence[Span], zone: str) -> str:
    longest = max(inside, key=lambda span: span.length_s)
    at = time_of_day(longest.start_s, zone)
    if len(inside) == 1:
        return f"a hole of {longest.length_s:.1f} s at {at}"
    return f"{len(inside)} holes, the longest of {longest.length_s:.1f} s at {at},"


def _delays(logs: Sequence[LogReport]) -> list[str]:
    """All channels that a launch is timed by and whose delay nobody knows, in one line."""
    unknown = {
        f"{channel.key} in {log.name!r}": channel.delay_sd_s
        for log in logs
        for channel in log.channels
        if channel.delay_origin == "unstated" and channel.key.partition(".")[0] in LAGGING
    }
    if not unknown:
        return []
    sd = max(unknown.values())
    line = (
        f"tenths in launch times: the sheet states no delay for {listed(list(unknown))}, so it is "
        f"taken as none, give or take {sd:.1f} s"
    )
    return [line]
