"""Frame times that were read before, in memory and in the user's cache folder.

A file is known by its path, its size and its time of last change. What is found damaged in
the cache is read afresh, and a cache that cannot be written costs time and nothing else.
"""

from __future__ import annotations

import hashlib
import json
import logging
import threading
import zipfile
from collections import OrderedDict
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sync.cache_folder import cache_folder, keep

if TYPE_CHECKING:
    from sync.media.frame_times import FrameTimes

FORMAT = "frame-times/1"
KEPT_IN_MEMORY = 32

_log = logging.getLogger(__name__)
_lock = threading.Lock()
_memory: OrderedDict[str, FrameTimes] = OrderedDict()


def cached(path: Path, read: Callable[[], FrameTimes]) -> FrameTimes:
    """The frame times of a file: from memory, else from the cache folder, else by `read`."""
    name = _name(path)
    if name is None:
        return read()
    with _lock:
        if name in _memory:
            _memory.move_to_end(name)
            return _memory[name]
    file = cache_folder() / "frame-times" / f"{name}.npz"
    times = _load(file, path)
    if times is None:
        times = read()
        _store(file, times)
    with _lock:
        _memory[name] = times
        while len(_memory) > KEPT_IN_MEMORY:
            _memory.popitem(last=False)
    return times


def forget() -> None:
    """Empty the memory; the cache folder stays."""
    with _lock:
        _memory.clear()


def _name(path: Path) -> str | None:
    try:
        facts = path.stat()
    except OSError:
        return None  # the reader will say what is wrong with it
    text = f"{FORMAT}|{path.resolve()}|{facts.st_size}|{facts.st_mtime_ns}"
    return hashlib.sha256(text.encode("utf-8", errors="surrogateescape")).hexdigest()[:40]


def _load(file: Path, path: Path) -> FrameTimes | None:
    from sync.media.frame_times import FrameTimes

    try:
        with file.open("rb") as stream, np.load(stream, allow_pickle=False) as data:
            facts = json.loads(str(data["facts"]))
            return FrameTimes(
                path=path,
                pts=data["pts"],
                key=data["key"],
                stop_pts=int(facts["stop_pts"]),
                time_base=Fraction(facts["time_base"]),
                warnings=tuple(facts["warnings"]),
            )
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile) as error:
        _log.info("the cached frame times in %s cannot be used (%s)", file, error)
        return None


def _store(file: Path, times: FrameTimes) -> None:
    facts = {
        "stop_pts": times.stop_pts,
        "time_base": str(times.time_base),
        "warnings": list(times.warnings),
    }
    try:
        keep(
            file,
            lambda stream: np.savez(
                stream, facts=np.array(json.dumps(facts)), pts=times.pts, key=times.key
            ),
        )
    except OSError as error:
        _log.info("the frame times cannot be kept in %s (%s)", file, error)
