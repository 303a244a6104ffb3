"""Hashes of what goes into a job, kept in the cache folder: hashing a card takes minutes.

A hash is kept by the file's path, size and time of change. A file that changed a moment ago may
change again without its time telling, so that its hash is used but not kept.
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Mapping
from contextlib import suppress
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from overlay.graphics.faceplate import load_faceplate
from overlay.workflow.hashes import remember_hash, sha256_of, stamp_of
from overlay.workflow.outputs import faceplate_name
from overlay.workflow.reel_fresh import sheet_hash
from sync.cache_folder import cache_folder, keep, keep_last
from sync.ties_file import document as ties_document

if TYPE_CHECKING:
    from overlay.sheet.model import Clip
    from overlay.trial import Material
    from sync.tie import Ties

FOLDER = "hashes"
MOST, MOST_BYTES = 20_000, 20_000_000
SETTLED_S = 2.0
"""A file is left alone for so long before its hash is kept: FAT counts time in two seconds."""


def kept_sha256(path: Path) -> str:
    """The SHA-256 of a file, from the cache folder where it did not change since.

    Raises
    ------
    OutputError
        Where the file cannot be read.
    """
    place = str(path.resolve())
    file = cache_folder() / FOLDER / f"{hashlib.sha256(place.encode()).hexdigest()}.json"
    with suppress(OSError):
        stamp = stamp_of(path)
        known = _known(file)
        if known.get("path") == place and known.get("stamp") == stamp:
            found = str(known["sha256"])
            remember_hash(path, stamp, found)
            return found
    found = sha256_of(path)
    with suppress(OSError):
        if stamp_of(path) == stamp and _settled(path):
            row = {"path": place, "stamp": stamp, "sha256": found}
            keep(file, lambda stream: _write(stream, row))
    return found


def _settled(path: Path) -> bool:
    return time.time() - path.stat().st_mtime > SETTLED_S


def _write(stream: Any, row: Mapping[str, str]) -> None:
    stream.write(json.dumps(row).encode())


def _known(file: Path) -> dict[str, Any]:
    try:
        known = json.loads(file.read_bytes())
    except (OSError, ValueError):
        return {}
    return known if isinstance(known, dict) else {}


def tidy_hashes() -> None:
    """Let the hashes that were kept longest ago go, where there are too many."""
    with suppress(OSError):
        keep_last(cache_folder() / FOLDER, most=MOST, most_bytes=MOST_BYTES)


def footage_hashes(material: Material, recording: str) -> dict[str, str]:
    """Hashes of the files of a recording, by their place in it."""
    return {name: kept_sha256(path) for name, path in _footage(material, recording).items()}


def _footage(material: Material, recording: str) -> dict[str, Path]:
    paths = material.footage[recording].paths
    return {f"footage/{number}": path for number, path in enumerate(paths, 1)}


def _files(material: Material, recording: str) -> dict[str, Path]:
    """The logs of a trial and the files of a recording, as `clip_inputs` calls them."""
    logs = {f"log:{name}": log.path for name, log in material.logs.items()}
    return logs | _footage(material, recording)


def clip_stamps(material: Material, clip: Clip) -> dict[str, str]:
    """Sizes and times of change of what a clip is made from, by name; of a file that changed a
    moment ago there is none."""
    stamps = {}
    for name, path in _files(material, clip.recording).items():
        with suppress(OSError):
            if _settled(path):
                stamps[name] = stamp_of(path)
    return stamps


def take_over(
    inputs: Mapping[str, str], stamps: Mapping[str, str], material: Material, clip: Clip
) -> None:
    """Take over hashes that were found when a clip was planned, of files with the same stamps
    still, so that no machine of a cluster reads a card from end to end for a piece of it."""
    for name, path in _files(material, clip.recording).items():
        with suppress(OSError):
            stamp = stamp_of(path)
            if stamps.get(name) == stamp and name in inputs:
                remember_hash(path, stamp, inputs[name])


def log_hashes(material: Material) -> dict[str, str]:
    """Hashes of all logs of a trial, by name."""
    return {f"log:{name}": kept_sha256(log.path) for name, log in material.logs.items()}


def clip_inputs(material: Material, ties: Ties | None, clip: Clip) -> dict[str, str]:
    """Hashes of all that a clip is made from, and the version that makes it, by their names.

    Raises
    ------
    FaceplateError
        Where there is no such faceplate.
    OutputError
        Where a file cannot be read.
    """
    return {
        "software": version("trialreel"),
        "sheet": sheet_hash(material.sheet_path.read_bytes()),
        "ties": "" if ties is None else digest(ties_document(ties)),
        "faceplate": _faceplate(clip, material),
        **log_hashes(material),
        **footage_hashes(material, clip.recording),
    }


def _faceplate(clip: Clip, material: Material) -> str:
    """A faceplate that the sheet or the series names, by content where it is a file."""
    if clip.faceplate is None:
        return "the one that suits"
    path = load_faceplate(faceplate_name(clip, material.folder, "quiet")).path
    return clip.faceplate if path is None else kept_sha256(path)


def changed_since(planned: Mapping[str, str], now: Mapping[str, str]) -> str:
    """What of a clip's inputs is not as it was planned, in words; empty where all is."""
    other = [name for name in sorted({*planned, *now}) if planned.get(name) != now.get(name)]
    words = {"software": "the version of trialreel", "sheet": "the sheet", "ties": "the ties",
             "faceplate": "the faceplate"}  # fmt: skip
    told = dict.fromkeys(
        words.get(name) or ("the footage" if name.startswith("footage/") else f"the {_log(name)}")
        for name in other
    )
    return " and ".join(told)


def _log(name: str) -> str:
    return f"log {name.removeprefix('log:')!r}"


def digest(facts: Mapping[str, Any]) -> str:
    """The SHA-256 of facts, whatever order they stand in."""
    text = json.dumps(facts, sort_keys=True, ensure_ascii=False, default=str)
    return hashlib.sha256(text.encode()).hexdigest()
