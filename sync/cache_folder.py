"""The user's cache folder: what trialreel can make again, and keeps to be quick the next time.

A file there is whole or not there at all, and one that cannot be written costs time and nothing
else.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import IO

CACHE_VARIABLE = "TRIALREEL_CACHE"
"""Environment variable that names another cache folder."""


def cache_folder() -> Path:
    """Where trialreel keeps what it can make again."""
    named = os.environ.get(CACHE_VARIABLE)
    if named:
        return Path(named)
    import platformdirs

    return Path(platformdirs.user_cache_dir("trialreel", appauthor=False))


def keep(file: Path, write: Callable[[IO[bytes]], None]) -> None:
    """Write a file of the cache folder beside its place, and move it there when it is whole.

    Raises
    ------
    OSError
        Where it cannot be written; nothing is left of it then.
    """
    file.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(suffix=".part", dir=file.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            write(stream)
        part.replace(file)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def keep_last(folder: Path, *, most: int, most_bytes: int) -> None:
    """Delete what was used longest ago in a folder, until there is no more than is allowed.

    Whoever uses a file says so by `os.utime`. Another process may delete at the same time.
    """
    found: list[tuple[float, int, Path]] = []
    for path in folder.iterdir():
        try:
            facts = path.stat()
        except FileNotFoundError:
            continue
        found.append((facts.st_mtime, facts.st_size, path))
    size = 0
    for place, (_, its_size, path) in enumerate(sorted(found, reverse=True)):
        size += its_size
        if place >= most or size > most_bytes:
            path.unlink(missing_ok=True)
