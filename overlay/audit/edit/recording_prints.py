"""Prints of films that no ledger has prints of: decoded once, and kept in the cache folder.

A film is known by the paths, sizes and times of last change of its files.
"""

from __future__ import annotations

import hashlib
import logging
import os
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from overlay.ledger.prints import CELLS, print_of
from sync.cache_folder import cache_folder, keep, keep_last
from sync.media import Footage, frame_times, small_frames

if TYPE_CHECKING:
    from numpy.typing import NDArray

FORMAT = "prints/1"
MOST_FILES, MOST_BYTES = 2000, 2**30
"""More than a season of recordings; an hour at 60 Hz is 7 MB (own choice)."""

_log = logging.getLogger(__name__)


def prints_by_decoding(
    footage: Footage, progress: Callable[[float, float], None] | None = None
) -> NDArray[np.uint8]:
    """The print of every frame [shape=(frames, 32), uint8], of small copies of the pictures.

    Raises
    ------
    FootageError
        Where it cannot be decoded.
    """
    frames = len(frame_times(footage))
    file = cache_folder() / "prints" / f"{_name(footage)}.npz"
    cells = _load(file, frames)
    if cells is None:
        cells = np.empty((frames, CELLS), np.uint8)
        for number, small in enumerate(small_frames(footage)):
            cells[number] = print_of(small.luma)
            if progress is not None and number % 50 == 0:
                progress(number, frames)
        _store(file, cells)
    cells.setflags(write=False)
    return cells


def _name(footage: Footage) -> str:
    facts = []
    for path in footage.paths:
        found = path.stat()
        facts.append(f"{path.resolve()}|{found.st_size}|{found.st_mtime_ns}")
    text = "|".join((FORMAT, *facts))
    return hashlib.sha256(text.encode("utf-8", errors="surrogateescape")).hexdigest()[:40]


def _load(file: Path, frames: int) -> NDArray[np.uint8] | None:
    try:
        with file.open("rb") as stream, np.load(stream, allow_pickle=False) as data:
            cells: NDArray[np.uint8] = data["cells"]
        if cells.shape != (frames, CELLS) or cells.dtype != np.uint8:
            return None
        os.utime(file)
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile) as error:
        _log.info("the prints kept in %s cannot be used (%s)", file, error)
        return None
    return cells


def _store(file: Path, cells: NDArray[np.uint8]) -> None:
    try:
        keep(file, lambda stream: np.savez_compressed(stream, cells=cells))
        keep_last(file.parent, most=MOST_FILES, most_bytes=MOST_BYTES)
    except OSError as error:
        _log.info("the prints cannot be kept in %s (%s)", file, error)
