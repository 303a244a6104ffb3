"""Whether a clip that was rendered before still shows what the trial's files say."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.errors import RenderError
from overlay.ledger import read_ledger
from overlay.sheet.model import Clip
from overlay.trial import Material
from overlay.workflow.hashes import input_hashes, sha256_of
from overlay.workflow.outputs import ledger_of

if TYPE_CHECKING:
    from overlay.render import Recipe


def stale_because(
    clip: Clip, output: Path, material: Material, known: Mapping[str, str]
) -> str | None:
    """Why a clip has to be rendered, as a clause; None where it can be used as it is.

    The clip's ledger says what it was made from. A sheet that has changed makes all of its clips
    stale, but for what it says of reels.

    Parameters
    ----------
    known
        By the hash of a clip's file, the hash of the sheet without its reels that the clip was
        found to be up to date with before.
    """
    ledger_path = ledger_of(output)
    if not output.is_file() or not ledger_path.is_file():
        return "it is not rendered yet"
    if clip.recording in material.unreadable:
        raise material.unreadable[clip.recording]
    try:
        facts = read_ledger(ledger_path).facts
        made_from = dict(facts["inputs"])
        software = facts["software"]
    except (OSError, ValueError, KeyError, TypeError):
        return "its ledger cannot be read"
    if software != f"trialreel {version('trialreel')}":
        return f"it was made by {software}"
    now = input_hashes(material, clip.recording)
    if clip.faceplate is not None and clip.faceplate.endswith(".toml"):
        faceplate = material.folder / clip.faceplate
        now["faceplate"] = sha256_of(faceplate) if faceplate.is_file() else ""
    sheet = material.sheet_path.read_bytes()
    same_sheet = made_from.get("sheet") in _hashes(sheet)
    if not same_sheet and known.get(sha256_of(output)) != sheet_hash(sheet):
        return "the trial sheet has changed since"
    changed = sorted(key for key in now.keys() - {"sheet"} if made_from.get(key) != now[key])
    return f"{', '.join(changed)} changed since" if changed else None


def recipe_of(ledger_path: Path) -> Recipe | None:
    """How a clip was encoded that has this ledger; None where that is not to be known."""
    from overlay.render import Recipe

    try:
        return Recipe(**read_ledger(ledger_path).facts["recipe"])
    except (OSError, ValueError, KeyError, TypeError, RenderError):
        return None


def sheet_hash(text: bytes) -> str:
    """The hash of a sheet without its reels."""
    return hashlib.sha256(_without_reels(text).rstrip()).hexdigest()


def _hashes(text: bytes) -> set[str]:
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
