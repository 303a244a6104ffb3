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
from pathlib import Path
from typing import TYPE_CHECKING, Any

from overlay.workflow.hashes import remember_hash, sha256_of, stamp_of
from sync.cache_folder import cache_folder, keep, keep_last

if TYPE_CHECKING:
    from overlay.trial import Material

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
        status = path.stat()
        if stamp_of(path) == stamp and time.time() - status.st_mtime > SETTLED_S:
            row = {"path": place, "stamp": stamp, "sha256": found}
            keep(file, lambda stream: _write(stream, row))
    return found


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
    paths = material.footage[recording].paths
    return {f"footage/{number}": kept_sha256(path) for number, path in enumerate(paths, 1)}


def log_hashes(material: Material) -> dict[str, str]:
    """Hashes of all logs of a trial, by name."""
    return {f"log:{name}": kept_sha256(log.path) for name, log in material.logs.items()}


def digest(facts: Mapping[str, Any]) -> str:
    """The SHA-256 of facts, whatever order they stand in."""
    text = json.dumps(facts, sort_keys=True, ensure_ascii=False, default=str)
    return hashlib.sha256(text.encode()).hexdigest()
