"""All results of a trial in one frozen value."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from overlay.analysis.air import Air, air
from overlay.analysis.attitude import (
    AIDED_ERROR_RAD,
    LaunchAttitude,
    Planing,
    launch_attitude,
)
from overlay.analysis.both_ways import BothWays, both_ways
from overlay.analysis.day import Found, Stretch, time_line
from overlay.analysis.definitions import DEFINITIONS
from overlay.analysis.economy import Tank
from overlay.analysis.idling import find_idling
from overlay.analysis.ladder import rungs
from overlay.analysis.launches import Launch, find_launches, measure_launch
from overlay.analysis.means import NONE
from overlay.analysis.missing import missing
from overlay.analysis.noise import StepNoise, noise_by_step
from overlay.analysis.setup import SetUp, set_up
from overlay.analysis.sides import Sides, sides_untold, sides_warning, which_sides
from overlay.analysis.smoothing import law_for
from overlay.analysis.steady import find_steady
from overlay.analysis.steps import Step, find_steps
from overlay.analysis.stopping import Stop, find_stops
from overlay.analysis.timed import TimedRun, timed_runs
from overlay.analysis.turning import Turn, find_turns
from sync.clock import UTC, Span, utc_seconds

if TYPE_CHECKING:
    from overlay.sheet import TrialSheet
    from overlay.trial import Trial


@dataclass(frozen=True, slots=True, kw_only=True)
class Results:
    """What a trial came to.

    `definitions` are the ones used, as (title, text, source); `laws` say for each channel
    how its shown value follows from its samples; `idling` is what was held idling in gear, ahead
    and astern, `noise` the steps in which a sound level meter logged; `sides` says whether two
    engines are where the logs have them, None for a boat that does not have two; `timed` has what
    the sheet wants timed; `missing` says which figures are not there and why.
    """

    launches: tuple[Launch, ...]
    both_ways: BothWays
    attitudes: tuple[LaunchAttitude, ...]
    set_up: SetUp
    steps: tuple[Step, ...]
    idling: tuple[Step, ...]
    noise: tuple[StepNoise, ...]
    air: Air | None
    turns: tuple[Turn, ...]
    stops: tuple[Stop, ...]
    sides: Sides | None
    timed: tuple[TimedRun, ...]
    day: tuple[Stretch, ...]
    definitions: tuple[tuple[str, str, str], ...]
    laws: tuple[tuple[str, str], ...]
    missing: tuple[str, ...]


def compute_results(trial: Trial) -> Results:
    """Work out everything that the logs of a trial support."""
    sheet = trial.sheet
    ladder_model = sheet.ladder_speeds()
    ladder = rungs(ladder_model.unit, ladder_model.speeds)
    choice = sheet.definitions.launch_start
    launches = list(find_launches(trial.channels, ladder, choice))
    empty: list[str] = []
    for run in sheet.runs:
        if run.kind != "launch":
            continue
        span = Span(start_s=utc_seconds(run.start), stop_s=utc_seconds(run.stop))
        named = measure_launch(trial.channels, ladder, choice, span, run.name)
        if named is None:
            empty.append(f"{run.name}: there is no launch in the stretch that the sheet gives it")
            continue
        launches = [launch for launch in launches if not launch.span.overlap(named.span)]
        launches.append(named)
    launches = _numbered(launches, {run.name for run in sheet.runs})
    found = _found(trial, launches)
    flow_share_sd = trial.flow.factor_sd / trial.flow.factor
    idling = find_idling(trial.channels, found.steady, len(sheet.engines), flow_share_sd)
    made = set_up(
        sheet,
        trial.channels,
        found.steps,
        found.steady,
        flow_share_sd,
    )
    sides = which_sides(trial.channels, len(sheet.engines))
    made = replace(made, warnings=(*made.warnings, *sides_warning(sides)))
    timed, untimed = timed_runs(trial)
    attitudes = tuple(
        launch_attitude(
            trial.channels,
            launch,
            _pitch_error(trial),
            _planing(trial, found.steps, made),
            sheet.definitions.bow_limit,
        )
        for launch in launches
    )
    return Results(
        launches=tuple(launches),
        both_ways=both_ways(launches),
        attitudes=attitudes,
        set_up=made,
        steps=tuple(found.steps),
        idling=idling.held,
        noise=noise_by_step(trial.channels, found.steps),
        air=air(sheet.conditions),
        turns=tuple(found.turns),
        stops=tuple(found.stops),
        sides=sides,
        timed=timed,
        day=time_line(trial.channels, found),
        definitions=_definitions_used(sheet, sides),
        laws=tuple(
            (key, law_for(channel, trial.channels).text) for key, channel in trial.channels.items()
        ),
        missing=(
            *empty,
            *missing(trial, launches, attitudes, found.steps, made.weighted_flow),
            *idling.remarks,
            *sides_untold(sides),
            *untimed,
        ),
    )


def _found(trial: Trial, launches: list[Launch]) -> Found:
    """Everything that was done in the day, launches as they are named."""
    steady = find_steady(trial.channels)
    return Found(
        launches=launches,
        steps=find_steps(
            trial.channels,
            steady,
            len(trial.sheet.engines),
            Tank(
                usable=trial.sheet.load.usable_tank,
                reserve=trial.sheet.reserve,
                flow_share_sd=trial.flow.factor_sd / trial.flow.factor,
            ),
        ),
        steady=steady,
        turns=find_turns(trial.channels),
        stops=find_stops(trial.channels),
        named=[
            (run.name, Span(start_s=utc_seconds(run.start), stop_s=utc_seconds(run.stop)))
            for run in trial.sheet.runs
            if run.kind == "span"
        ],
    )


def _pitch_error(trial: Trial) -> float | None:
    """How far the sensor of pitch errs in a launch; None where the sheet does not say."""
    log = trial.sources.get("pitch")
    for sensor in trial.sheet.sensors:
        if (sensor.log, sensor.channel) == (log, "pitch"):
            return sensor.error or (AIDED_ERROR_RAD if sensor.aided else None)
    return None


def _planing(trial: Trial, steps: Sequence[Step], made: SetUp) -> Planing:
    """How the sheet has time to plane told, with what that needs."""
    chosen = trial.sheet.definitions
    lowest = next((step for step in steps if step.name == made.lowest_planing), None)
    marks = [m for m in trial.material.marks() if "plane" in m.label.casefold()]
    tied = [m for m in marks if m.clock == UTC or m.clock in trial.ties.by_clock]
    buttons = sorted(trial.ties.to_utc(m.clock).carry(m.t_s) for m in tied)
    return Planing(
        choice=chosen.time_to_plane,
        trim=NONE if lowest is None else lowest.pitch,
        trim_mps=math.nan if lowest is None else lowest.speed.value,
        speed_mps=chosen.plane_speed,
        mass_kg=None if made.mass is None else made.mass.value_kg,
        buttons_s=buttons,
    )


def _numbered(launches: list[Launch], taken: set[str]) -> list[Launch]:
    """The launches in order of time; those that nobody named are numbered past taken names."""
    out: list[Launch] = []
    number = 0
    for launch in sorted(launches, key=lambda launch: launch.start.t_s):
        if launch.name in taken:
            out.append(launch)
            continue
        number += 1
        while f"launch {number}" in taken:
            number += 1
        out.append(replace(launch, name=f"launch {number}"))
    return out


def _definitions_used(sheet: TrialSheet, sides: Sides | None) -> tuple[tuple[str, str, str], ...]:
    chosen: dict[str, str] = {
        "launch_start": sheet.definitions.launch_start,
        "time_to_plane": sheet.definitions.time_to_plane,
    }
    asked = {
        "bow_above": sheet.definitions.bow_limit is not None,
        "sides": sides is not None,
        "timed": bool(sheet.timed),
    }
    return tuple(
        (entry.title, entry.choices[chosen.get(name, entry.default)], entry.source)
        for name, entry in DEFINITIONS.items()
        if asked.get(name, True)
    )
