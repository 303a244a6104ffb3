"""The folder of a line-up: there whole or not at all, and never in the place of other work.

Its manifest says which files were written, each with its hash. A folder in the way is replaced
only where it has a manifest and holds those files as they were written, and nothing else: an
editor who has changed a list in it keeps it.
"""

from __future__ import annotations

import hashlib
import json
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from overlay.errors import OutputError

MANIFEST = "lineup.json"
SCHEMA = "lineup-folder/1"
_ADVICE = "move it away, or give it another name"


def put_lineup(folder: Path, files: Mapping[str, str]) -> None:
    """Write files into a folder beside its place, and move it there when it is whole.

    Parameters
    ----------
    files
        Text by place below the folder.

    Raises
    ------
    OutputError
        Where the place cannot be written to, or holds what no line-up wrote.
    """
    must_be_lineup(folder)
    try:
        with tempfile.TemporaryDirectory(prefix=".making-", dir=folder.parent) as making:
            made = Path(making) / folder.name
            _write(made, files)
            _swap(made, folder, Path(making) / "before")
    except OSError as error:
        raise OutputError(
            f"the line-up cannot be written ({error.strerror or error})",
            path=folder,
            advice="free some space, or choose a folder that you may write to",
        ) from error


def _write(made: Path, files: Mapping[str, str]) -> None:
    hashes = {}
    for name, text in sorted(files.items()):
        content = text.encode()
        path = made / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        hashes[name] = hashlib.sha256(content).hexdigest()
    manifest = {"schema": SCHEMA, "files": hashes}
    (made / MANIFEST).write_text(json.dumps(manifest, indent=2) + "\n", encoding="utf-8")


def _swap(made: Path, folder: Path, before: Path) -> None:
    """Put the new folder in the old one's place, or leave the old one there."""
    there = folder.exists()
    if there:
        folder.rename(before)
    try:
        made.rename(folder)
    except OSError:
        if there:
            before.rename(folder)
        raise


def must_be_lineup(folder: Path) -> None:
    """Refuse a place that holds anything but a line-up as it was written.

    Raises
    ------
    OutputError
        Says what is in the way.
    """
    if not folder.exists() and not folder.is_symlink():
        return
    if folder.is_symlink() or not folder.is_dir():
        raise OutputError(
            "there is a file or a link in the line-up's place", path=folder, advice=_ADVICE
        )
    written = _manifest(folder)
    if written is None:
        raise OutputError(
            "there is a folder already, and it is no line-up of trialreel",
            path=folder,
            advice=_ADVICE,
        )
    for path in sorted(folder.rglob("*")):
        if not path.is_dir() or path.is_symlink():
            _must_be_as_written(path, path.relative_to(folder).as_posix(), written)


def _must_be_as_written(path: Path, name: str, written: Mapping[str, str]) -> None:
    if name == MANIFEST:
        return
    if path.is_symlink() or name not in written:
        raise OutputError(
            "this lies in the line-up's folder, and no line-up wrote it",
            path=path,
            advice="move it away",
        )
    if _sha256(path) != written[name]:
        raise OutputError(
            "somebody changed this file of the line-up",
            path=path,
            advice="move it away to keep it, or delete it",
        )


def _manifest(folder: Path) -> dict[str, str] | None:
    with suppress(OSError, ValueError, KeyError, TypeError, AttributeError):
        given = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        if given["schema"] == SCHEMA:
            return {str(name): str(value) for name, value in given["files"].items()}
    return None


def _sha256(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise OutputError(f"this cannot be read ({error.strerror})", path=path) from error
