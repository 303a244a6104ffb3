"""What a render was made from, and what has become of it since."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from overlay.audit.verdict import Input
from overlay.graphics.faceplate import load_faceplate
from overlay.trial import Material, footage_clock
from overlay.workflow.clip_facts import tie_facts
from overlay.workflow.evidence.search import search
from overlay.workflow.hashes import sha256_of
from overlay.workflow.locate import ties_path
from sync.errors import TrialReelError
from sync.ties_file import from_document

if TYPE_CHECKING:
    from sync.tie import Ties

SAME_S = 1e-6
"""Ties that are apart by less are the same: what is written is rounded by less."""


def standing_ties(material: Material) -> tuple[Ties, tuple[str, ...]]:
    """The ties that stand beside the sheet, or else those that are found now, and a warning then;
    nothing is written.

    They may have been found from other inputs than there are now: whoever audits wants to know
    what a render could rest on, and is told by hashes what has changed.
    """
    path = ties_path(material.sheet_path)
    try:
        return from_document(json.loads(path.read_text(encoding="utf-8"))), ()
    except (OSError, ValueError, KeyError, TypeError):
        told = f"{path.name} is missing or cannot be read, so the ties were found anew."
        return search(material).ties, (told,)


def inputs_of(facts: Mapping[str, Any], material: Material, ties: Ties) -> tuple[Input, ...]:
    """Every input that the ledger names, and the tie."""
    places = _places(material) | _faceplate(facts, material)
    made = [
        _input(name, str(then), places.get(name))
        for name, then in sorted(facts.get("inputs", {}).items())
    ]
    return (*made, *_ties(facts, ties))


def _input(name: str, then: str, path: Path | None) -> Input:
    now = None
    if path is not None:
        try:
            now = sha256_of(path)
        except TrialReelError:
            now = None
    return Input(name=name, then=then, now=now, path=path)


def _places(material: Material) -> dict[str, Path]:
    places = {"sheet": material.sheet_path}
    places |= {f"log:{name}": log.path for name, log in material.logs.items()}
    for name, film in material.footage.items():
        rows = [("footage", film.paths), ("proxy", film.proxy.paths if film.proxy else ())]
        for sort, paths in rows:
            for number, path in enumerate(paths, 1):
                first = number == 1 and sort == "footage"
                places[f"{sort}:{name}" if first else f"{sort}:{name}/{number}"] = path
    return places


def _faceplate(facts: Mapping[str, Any], material: Material) -> dict[str, Path]:
    """Where the faceplate lies, if it is still there."""
    told = str(facts.get("faceplate", ""))
    try:
        path = load_faceplate(material.folder / told if told.endswith(".toml") else told).path
    except TrialReelError:
        return {}
    return {} if path is None else {"faceplate": path}


def _ties(facts: Mapping[str, Any], ties: Ties) -> tuple[Input, ...]:
    """The ties that the render rests on, as text to be compared: offset and rate."""
    then = dict(facts.get("log_ties", {}))
    recording = facts.get("recording")
    if recording is not None and "tie" in facts:
        then[footage_clock(str(recording))] = facts["tie"]
    made = []
    for clock, kept in then.items():
        tie = ties.by_clock.get(clock)
        now = None if tie is None else tie_facts(tie)
        same = now is not None and _same(kept, now)
        told = None if now is None else _text(kept if same else now)
        made.append(Input(name=f"tie of {clock}", then=_text(kept), now=told))
    return tuple(made)


def _same(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """Whether two ties carry the same instants to the same places, where the clues are."""
    at = float(one.get("pivot_s") or 0.0)
    apart = [float(tie["offset_s"]) + (float(tie["rate"]) - 1.0) * at for tie in (one, other)]
    return abs(apart[0] - apart[1]) < SAME_S


def _text(tie: Mapping[str, Any]) -> str:
    return f"zero at {float(tie['offset_s']):.6f} s of UTC, rate {float(tie['rate']):.9f}"
