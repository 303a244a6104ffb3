"""`trialreel check`: what is there, what is odd about it, and what cannot be had from it.

It reads and writes nothing: what follows from it a crew decides before the boat is out of
the water.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

from overlay.analysis.results import compute_results
from overlay.sheet.model import Sensor
from overlay.trial import Material, build_trial, footage_clock, log_span, read_material
from overlay.workflow.checking.cannot import cannot_be_had
from overlay.workflow.checking.clips import cannot_be_made
from overlay.workflow.checking.clocks import clock_reports
from overlay.workflow.checking.concerns import concerns
from overlay.workflow.checking.logs import log_reports
from overlay.workflow.checking.model import CheckOutcome, RecordingReport
from overlay.workflow.checking.runs import Films, films_of, run_reports, shot
from overlay.workflow.evidence.search import Search, search
from overlay.workflow.locate import find_sheet
from sync.clue import Finding
from sync.media import Footage, looks_cut, suspected_slow

__all__ = ["CheckOutcome", "check"]


def check(sheet: Path) -> CheckOutcome:
    """Read everything that a sheet lists and say what it amounts to.

    Raises
    ------
    TrialReelError
        For the first thing that cannot be used at all.
    """
    material, lost = without_lost_sensors(read_material(find_sheet(sheet)))
    found = search(material)
    trial = build_trial(material, found.ties)
    results = compute_results(trial)
    films = films_of(trial)
    logs = log_reports(trial)
    clocks = clock_reports(material, found.ties)
    runs = run_reports(trial, results, films)
    recordings = _recordings(material, found, films)
    return CheckOutcome(
        sheet_path=material.sheet_path,
        name=material.sheet.name,
        time_zone=material.sheet.time_zone or "UTC",
        units=material.sheet.units,
        span=log_span(trial),
        concerns=concerns(
            material,
            logs,
            clocks,
            runs,
            recordings,
            lost=lost,
            films=(*_of_files(material), *cannot_be_made(trial, results, films)),
        ),
        runs=runs,
        clocks=clocks,
        loops=found.ties.loops,
        recordings=recordings,
        logs=logs,
        unreadable=tuple(str(error) for error in material.unreadable.values()),
        cannot=cannot_be_had(trial, results, runs, logs),
    )


def without_lost_sensors(material: Material) -> tuple[Material, tuple[Sensor, ...]]:
    """The material with the sensors of its sheet that have a channel, and those that have none.

    Everywhere else a sensor without its channel is an error; here it is what a dead sensor
    looks like.
    """
    sheet = material.sheet
    kept = [one for one in sheet.sensors if one.channel in material.logs[one.log].channels]
    lost = tuple(one for one in sheet.sensors if one not in kept)
    return replace(material, sheet=sheet.model_copy(update={"sensors": kept})), lost


def _of_files(material: Material) -> tuple[str, ...]:
    """Remarks on files that look like parts of one recording, or like undeclared slow motion."""
    slow = {entry.name for entry in material.sheet.recordings if entry.slow_motion is not None}
    films = tuple(material.footage.values())
    undeclared = tuple(film for name, film in material.footage.items() if name not in slow)
    return (*looks_cut(films), *suspected_slow(undeclared))


def _recordings(material: Material, found: Search, films: Films) -> tuple[RecordingReport, ...]:
    return tuple(
        _recording(name, film, found.findings.get(footage_clock(name), Finding()), films)
        for name, film in material.footage.items()
    )


def _recording(name: str, film: Footage, finding: Finding, films: Films) -> RecordingReport:
    sound = ", ".join(f"{t.codec} {t.layout} {t.rate_hz / 1000:g} kHz" for t in film.sound)
    return RecordingReport(
        name=name,
        paths=film.paths,
        width_px=film.width,
        height_px=film.height,
        rate_hz=float(film.average_rate_hz) if film.average_rate_hz else math.nan,
        length_s=film.duration_s if film.duration_s is not None else math.nan,
        codec=film.codec,
        sound=sound or "none",
        created=film.created.isoformat() if film.created else "not stated",
        shot=shot(films[name]) if name in films else None,
        claps=tuple(
            f"{clue.text} (a hint)" if clue.hint else clue.text
            for clue in finding.clues
            if clue.kind == "clap"
        ),
        remarks=finding.remarks,
        warnings=film.warnings,
    )
