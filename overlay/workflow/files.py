"""Writing small files: beside their place first, and moved there when whole."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from overlay.errors import OutputError
from sync.errors import TrialReelError


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that it is there in full or not at all.

    Raises
    ------
    OutputError
        Where the place cannot be written to.
    """
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_bytes(content)
        part.replace(path)
    except OSError as error:
        raise OutputError(
            f"this cannot be written ({error.strerror})",
            path=path,
            advice="free some space, or choose a folder that you may write to",
        ) from error
    finally:
        with suppress(OSError):  # where there is no such folder, there is nothing left behind
            part.unlink(missing_ok=True)


@contextmanager
def staged(*places: Path, folder_first: bool = False) -> Iterator[tuple[Path, ...]]:
    """Make several files that belong together, and put them in place when all are whole.

    Yields a path for each place, in a folder beside it. Leaving in peace moves all of them to
    their places; leaving by an error removes what was made. With `folder_first` the first of them
    is a folder, which is made, and takes the place of one that is there.

    Raises
    ------
    OutputError
        Where the disk or the file system does not take them.
    """
    folder = places[0].parent
    for place in places[1:] if folder_first else places:
        if place.is_dir():
            raise OutputError("there is a folder in the way", path=place, advice="move it away")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".making-", dir=folder) as making:
            parts = tuple(Path(making) / place.name for place in places)
            if folder_first:
                parts[0].mkdir()
            yield parts
            _put_in_place(parts, places, Path(making))
    except OSError as error:
        if isinstance(error, TrialReelError):
            raise
        raise OutputError(
            f"this cannot be written ({error.strerror or error})",
            path=places[0],
            advice="free some space, or choose a folder that you may write to",
        ) from error


def _put_in_place(parts: tuple[Path, ...], places: tuple[Path, ...], making: Path) -> None:
    """Move all parts, or put back what stood in their places before."""
    kept: list[tuple[Path, Path]] = []
    moved: list[Path] = []
    try:
        for number, (part, place) in enumerate(zip(parts, places, strict=True)):
            if place.exists():
                old = making / f"{number}.old"
                place.replace(old)
                kept.append((old, place))
            part.replace(place)
            moved.append(place)
    except OSError:
        for place in moved:
            shutil.rmtree(place) if place.is_dir() else place.unlink(missing_ok=True)
        for old, place in kept:
            old.replace(place)
        raise


def write_json(path: Path, document: dict[str, Any]) -> None:
    """Write a document as JSON, whole or not at all."""
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)
    write_whole(path, text.encode() + b"\n")
