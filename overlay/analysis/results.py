"""All results of a trial in one frozen value, and its versioned document."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

from overlay.analysis.definitions import DEFINITIONS
from overlay.analysis.held import Held, find_held
from overlay.analysis.launches import Launch, find_launches, measure_launch, rungs
from overlay.analysis.smoothing import law_for
from overlay.documents import without_nan
from sync.clock import Span, utc_seconds, utc_text

if TYPE_CHECKING:
    from overlay.trial import Trial

SCHEMA = "results/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Results:
    """What a trial came to.

    `definitions` are the ones used, as (title, text, source); `laws` say for each channel
    how its shown value follows from its samples; `missing` says which figures are not there
    and why.
    """

    launches: tuple[Launch, ...]
    held: tuple[Held, ...]
    definitions: tuple[tuple[str, str, str], ...]
    laws: tuple[tuple[str, str], ...]
    missing: tuple[str, ...]

    def launch(self, name: str) -> Launch | None:
        """The launch of a name."""
        return next((launch for launch in self.launches if launch.name == name), None)


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
    held = [entry for launch in launches if (entry := _held(trial, launch, launches))]
    return Results(
        launches=tuple(launches),
        held=tuple(held),
        definitions=_definitions_used(choice),
        laws=tuple((key, law_for(channel).text) for key, channel in trial.channels.items()),
        missing=(*empty, *_missing(trial, launches, held)),
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


def _held(trial: Trial, launch: Launch, launches: list[Launch]) -> Held | None:
    speed = trial.channels["speed"]
    assert speed.span is not None  # a launch was found in it
    later = [other.start.t_s for other in launches if other.start.t_s > launch.start.t_s]
    stop = min([speed.span.stop_s, *later])
    if stop <= launch.stop_s:
        return None
    return find_held(
        trial.channels,
        launch.name,
        Span(start_s=launch.stop_s, stop_s=stop),
        usable_tank=trial.sheet.load.usable_tank,
        reserve=trial.sheet.reserve,
        engines=len(trial.sheet.engines),
    )


def _definitions_used(launch_start: str) -> tuple[tuple[str, str, str], ...]:
    chosen = {"launch_start": launch_start}
    return tuple(
        (entry.title, entry.choices[chosen.get(name, entry.default)], entry.source)
        for name, entry in DEFINITIONS.items()
    )


def _missing(trial: Trial, launches: list[Launch], held: list[Held]) -> tuple[str, ...]:
    missing = []
    speed = trial.channels.get("speed")
    if speed is None:
        missing.append("launches: no log has speed over ground")
    elif speed.means == "differenced":
        missing.append("launches: speed was differenced from places, which is too coarse")
    elif not launches:
        missing.append("launches: none was found in the speed of the day")
    if launches and not {"throttle", "engine_speed"} & set(trial.channels):
        missing.append(
            "launch start from the throttle: neither throttle nor engine speed is logged, "
            "so the boat's first movement stands in"
        )
    missing += [
        f"{launch.name}: its start is not the throttle's, which is logged but does not rise where "
        "the boat does; check the delay and the tie of its log"
        for launch in launches
        if "throttle" in trial.channels
        and launch.start.event != "throttle"
        and trial.sheet.definitions.launch_start == "throttle_or_engine"
    ]
    missing += [
        f"{launch.name}: the log of speed breaks off in it" for launch in launches if launch.broken
    ]
    if held and all(math.isnan(entry.fuel_flow) for entry in held):
        missing.append("economy: no fuel flow over the held stretch")
    elif held and trial.sheet.load.usable_tank is None:
        missing.append("range: the sheet has no load.usable_tank")
    return (*missing, *trial.notes)


def document(results: Results, trial: Trial) -> dict[str, Any]:
    """The results as `results.json` holds them: SI throughout, NaN as null."""
    body = {
        "schema": SCHEMA,
        "trial": trial.sheet.name,
        "launches": [_launch_row(launch) for launch in results.launches],
        "held": [asdict(entry) for entry in results.held],
        "definitions": [
            {"title": title, "text": text, "source": source}
            for title, text, source in results.definitions
        ],
        "laws": dict(results.laws),
        "delays": [sensor.model_dump() for sensor in trial.sheet.sensors],
        "missing": list(results.missing),
    }
    plain = without_nan(body)
    assert isinstance(plain, dict)
    return plain


def _launch_row(launch: Launch) -> dict[str, Any]:
    return {
        **asdict(launch),
        "start_utc": utc_text(launch.start.t_s),
        "directions": "one direction only",
    }
