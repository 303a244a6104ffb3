"""Whether a clip that was rendered before still shows what the trial's files say."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from overlay.ledger import read_ledger
from overlay.sheet.model import Clip
from overlay.trial import Material
from overlay.workflow.hashes import input_hashes, sha256_of
from overlay.workflow.outputs import ledger_of
from sync.errors import TrialReelError

if TYPE_CHECKING:
    from overlay.render import Recipe


@dataclass(frozen=True, slots=True, kw_only=True)
class Before:
    """What is known of clips before a reel is made.

    Parameters
    ----------
    sheet
        The sheet's bytes as they were read: those on the disk may change while a film is made.
    known
        By the hash of a clip's file, the hash of the sheet without its reels that the clip was
        found to be up to date with.
    """

    sheet: bytes
    known: Mapping[str, str]


def stale_because(clip: Clip, output: Path, material: Material, before: Before) -> str | None:
    """Why a clip has to be rendered, as a clause; None where it can be used as it is.

    The clip's ledger says what it was made from. A sheet that has changed makes all of its clips
    stale, but for what it says of reels.
    """
    ledger_path = ledger_of(output)
    if not output.is_file() or not ledger_path.is_file():
        return "it is not rendered yet"
    if clip.recording in material.unreadable:
        raise material.unreadable[clip.recording]
    facts = _facts_of(ledger_path)
    made_from, software = facts.get("inputs"), facts.get("software")
    if not isinstance(made_from, dict) or software is None:
        return "its ledger cannot be read"
    if software != f"trialreel {version('trialreel')}":
        return f"it was made by {software}"
    now = input_hashes(material, clip.recording)
    if clip.faceplate is not None and clip.faceplate.endswith(".toml"):
        faceplate = material.folder / clip.faceplate
        now["faceplate"] = sha256_of(faceplate) if faceplate.is_file() else ""
    same_sheet = made_from.get("sheet") in sheet_hashes(before.sheet)
    if not same_sheet and before.known.get(sha256_of(output)) != sheet_hash(before.sheet):
        return "the trial sheet has changed since"
    changed = sorted(key for key in now.keys() - {"sheet"} if made_from.get(key) != now[key])
    return f"{', '.join(changed)} changed since" if changed else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Manner:
    """How a clip was rendered before, and is to be rendered again."""

    recipe: Recipe | None
    strip_location: bool


def manner_of(output: Path) -> Manner:
    """How a clip was rendered, by its ledger.

    There is no recipe where none is to be known, and where its encoder does not write into files
    of the clip's ending: the sheet may have given the clip another one since.
    """
    facts = _facts_of(ledger_of(output))
    recipe = _recipe_in(facts)
    if recipe is not None and output.suffix.lower() not in recipe.by.containers:
        recipe = None
    return Manner(recipe=recipe, strip_location=facts.get("strip_location") is True)


def _recipe_in(facts: Mapping[str, Any]) -> Recipe | None:
    from overlay.render import Recipe

    try:
        return Recipe(**facts["recipe"])
    except (LookupError, ValueError, TypeError, TrialReelError):
        return None


def _facts_of(ledger_path: Path) -> Mapping[str, Any]:
    """What a ledger says of its clip; nothing where it cannot be read."""
    try:
        return read_ledger(ledger_path).facts
    except (OSError, ValueError, TypeError, LookupError, AttributeError, RuntimeError):
        return {}


def sheet_hash(text: bytes) -> str:
    """The hash of a sheet without its reels."""
    return hashlib.sha256(_without_reels(text).rstrip()).hexdigest()


def sheet_hashes(text: bytes) -> set[str]:
    """Hashes of the sheet as it is, and as it was before reels were written below the rest."""
    bare = _without_reels(text)
    versions = (text, bare, bare.rstrip() + b"\n", bare.rstrip())
    return {hashlib.sha256(one).hexdigest() for one in versions}


def _without_reels(text: bytes) -> bytes:
    """The lines of a sheet but those from the head of a reel up to the next table's.

    Only a first bracket of a line counts, and a part of a reel never begins with one; so
    nothing but reels can be taken out.
    """
    kept: list[bytes] = []
    inside = False
    for line in text.splitlines(keepends=True):
        bare = line.lstrip()
        if bare.startswith(b"["):
            name = bare.lstrip(b"[ \t").partition(b"]")[0].strip()
            inside = name.partition(b".")[0].strip() == b"reels"
        if not inside:
            kept.append(line)
    return b"".join(kept)
