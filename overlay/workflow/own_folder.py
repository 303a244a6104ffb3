"""A folder that is there whole or not at all, and never takes the place of other people's work.

Its manifest says which files were written, each with its hash. A folder in the way is replaced
only where it has a manifest and holds those files as they were written, and nothing else: who has
changed a file in it keeps it.
"""

from __future__ import annotations

import hashlib
import json
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from overlay.errors import OutputError

_ADVICE = "move it away, or give it another name"


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnFolder:
    """A kind of folder that this program writes as a whole.

    Parameters
    ----------
    noun
        What such a folder is called: `report`.
    manifest
        The name of the file that says what was written.
    schema
        What that file says it is.
    """

    noun: str
    manifest: str
    schema: str

    def put(self, folder: Path, files: Mapping[str, str]) -> None:
        """Write files into a folder beside its place, and move it there when it is whole.

        Parameters
        ----------
        files
            Text by place below the folder.

        Raises
        ------
        OutputError
            Where the place cannot be written to, or holds what nothing of this kind wrote.
        """
        self.must_be_ours(folder)
        try:
            with tempfile.TemporaryDirectory(prefix=".making-", dir=folder.parent) as making:
                made = Path(making) / folder.name
                self._write(made, files)
                _swap(made, folder, Path(making) / "before")
        except OSError as error:
            raise OutputError(
                f"the {self.noun} cannot be written ({error.strerror or error})",
                path=folder,
                advice="free some space, or choose a folder that you may write to",
            ) from error

    def must_be_ours(self, folder: Path) -> None:
        """Refuse a place that holds anything but such a folder as it was written.

        Raises
        ------
        OutputError
            Says what is in the way.
        """
        if not folder.exists() and not folder.is_symlink():
            return
        if folder.is_symlink() or not folder.is_dir():
            raise OutputError(
                f"there is a file or a link in the {self.noun}'s place", path=folder, advice=_ADVICE
            )
        written = self._written(folder)
        if written is None:
            raise OutputError(
                f"there is a folder already, and it is no {self.noun} of trialreel",
                path=folder,
                advice=_ADVICE,
            )
        for path in sorted(folder.rglob("*")):
            name = path.relative_to(folder).as_posix()
            if name != self.manifest and (path.is_symlink() or not path.is_dir()):
                self._must_be_as_written(path, name, written)

    def _must_be_as_written(self, path: Path, name: str, written: Mapping[str, str]) -> None:
        if path.is_symlink() or name not in written:
            raise OutputError(
                f"this lies in the {self.noun}'s folder, and no {self.noun} wrote it",
                path=path,
                advice="move it away",
            )
        if _sha256(path) != written[name]:
            raise OutputError(
                f"somebody changed this file of the {self.noun}",
                path=path,
                advice="move it away to keep it, or delete it",
            )

    def _write(self, made: Path, files: Mapping[str, str]) -> None:
        hashes = {}
        for name, text in sorted(files.items()):
            content = text.encode()
            path = made / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
            hashes[name] = hashlib.sha256(content).hexdigest()
        manifest = {"schema": self.schema, "files": hashes}
        text = json.dumps(manifest, indent=2) + "\n"
        (made / self.manifest).write_text(text, encoding="utf-8")

    def _written(self, folder: Path) -> dict[str, str] | None:
        """The hash of every file that was written; None where no manifest of ours says so."""
        with suppress(OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
            given = json.loads((folder / self.manifest).read_text(encoding="utf-8"))
            if given["schema"] == self.schema:
                return {str(name): str(value) for name, value in given["files"].items()}
        return None


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


def _sha256(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise OutputError(f"this cannot be read ({error.strerror})", path=path) from error
