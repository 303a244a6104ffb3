"""What a ledger keeps of a whole render: what it was made from, and how."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from importlib import resources
from importlib.metadata import version
from pathlib import Path
from typing import Any

from overlay.analysis.results import Results
from overlay.figures import UNIT_SETS
from overlay.graphics.faceplate import Faceplate
from overlay.graphics.instruments import INSTRUMENTS
from overlay.graphics.plan import Plan
from overlay.graphics.readable import layout_of
from overlay.graphics.subject import Subject
from overlay.ledger import Source
from overlay.trial import Material, Trial
from overlay.workflow.faces import turning_key
from overlay.workflow.subject import signals_shown
from sync.tie import Tie

NOT_AUDITED = "not yet audited"


def made_by() -> str:
    """The program and its version, as clips and ledgers name it."""
    return f"trialreel {version('trialreel')}"


def comment() -> str:
    """What a clip says of itself until somebody has held it against the logs."""
    return f"{made_by()}; {NOT_AUDITED}"


def facts_of(
    trial: Trial, results: Results, name: str, subject: Subject, plan: Plan
) -> dict[str, Any]:
    """What holds for the whole of a render, for whoever audits it; what it was made from apart,
    since hashing that takes time."""
    return {
        "layout": layout_of(plan).as_facts(),
        "instruments": {name: dict(told) for name, told in plan.definitions.items()},
        "clip": name,
        "trial": trial.sheet.name,
        "sheet": trial.material.sheet_path.name,
        "software": made_by(),
        "audit": NOT_AUDITED,
        "units": trial.sheet.units,
        **log_facts(trial),
        "signals": signals_shown(subject),
        "definitions": [list(row) for row in results.definitions],
        "run": asdict(subject.run),
        "rest": subject.rest_utc_s,
    }


def log_facts(trial: Trial) -> dict[str, Any]:
    """How the logs lie to UTC, which of them has each channel, and how late that is."""
    return {
        "log_ties": {
            clock: tie_facts(other)
            for clock, other in trial.ties.by_clock.items()
            if clock.startswith("log:")
        },
        "sources": dict(trial.sources),
        "delays": {
            key: {"log": trial.sources[key], **asdict(late)} for key, late in trial.delays.items()
        },
    }


def faceplate_told(faceplate: Faceplate, folder: Path) -> str:
    """A faceplate as a ledger names it: by its name where it comes with the program, else by its
    file, from the sheet's folder if it lies there."""
    path = faceplate.path
    if path is None or path.is_relative_to(str(resources.files("overlay.graphics"))):
        return faceplate.name
    return str(path.relative_to(folder) if path.is_relative_to(folder) else path.name)


def tie_facts(tie: Tie) -> dict[str, float | None]:
    """A tie's straight line, its pivot, and how sure offset and rate are there."""
    return {
        "offset_s": tie.map.offset_s,
        "rate": tie.map.rate,
        "sd_s": tie.sd_s,
        "pivot_s": tie.pivot_s,
        "rate_sd": tie.rate_sd,
    }


def sources_shown(
    trial: Trial, faceplate: Faceplate, subject: Subject
) -> Mapping[Source, tuple[str, str]]:
    """By instrument, or by its item, the channel that its numbers follow from and the log that
    this comes from."""
    channels: dict[Source, str] = {}
    for spec in faceplate.instruments:
        kind = INSTRUMENTS[spec.kind]
        channels[spec.name] = spec.channel or turning_key(trial, kind.follows_from)
        if spec.kind == "neatline":
            channels |= {(spec.name, mark.label): mark.channel for mark in subject.run.marks}
        if kind.twin:
            name = spec.channel.partition(".")[0]
            for item, engine in zip(("port", "starboard"), subject.sides, strict=True):
                channels[spec.name, item] = name if engine == 0 else f"{name}.{engine}"
    return {place: (key, trial.sources.get(key, "")) for place, key in channels.items()}


def units_told(facts: Mapping[str, Any], material: Material) -> str:
    """The set of units that a ledger names; the sheet's where it names none that there is."""
    told = str(facts.get("units"))
    return told if told in UNIT_SETS else material.sheet.units
