"""Trials that lie elsewhere: at any address that fsspec knows, such as `s3://…` or `zip://…`.

Logs are judged, footage is probed and all of it is hashed before anything is planned, so that
every byte of a trial is read on the way in any case. It is kept then, in the folder of the series,
which the workers of a cluster see too: a trial is fetched once, by whoever plans, and a file of it
again where it changed. Only what the sheet names is fetched, and the ties that lie beside it.
"""

from __future__ import annotations

import glob
import hashlib
import json
import posixpath
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import Any

from overlay.errors import OutputError, SheetError
from overlay.series.fetched import fetch_trial
from overlay.sheet.fields import safe_name
from overlay.workflow.locate import SHEET_NAME

FETCHED = "fetched"
"""The folder for it, in the folder of the series."""

MOST_FILES = 10_000


def is_address(text: str) -> bool:
    """Whether a trial is named by an address, rather than by a path."""
    return "://" in text


@dataclass(frozen=True, slots=True, kw_only=True)
class _Source:
    """A file system, and how addresses of it are told."""

    files: Any
    address: str

    def found(self, path: str) -> list[str]:
        """The sheets that a path or pattern means."""
        if glob.has_magic(path):
            names = sorted(self.files.glob(path))[:MOST_FILES]
            return [name for name in names if name.endswith(".toml")]
        if self.files.isdir(path):
            return [posixpath.join(path, SHEET_NAME)]
        return [path]

    def place(self, sheet: str, folder: Path) -> Path:
        """The folder for a trial, in the folder of a series.

        Two trials may lie in folders of one name, on two machines or in two archives: all of the
        address tells them apart, but for the path in its first link. That is a pattern at times,
        and the trial's own folder says more.
        """
        first, *others = self.address.split("::")
        scheme, _, path = first.partition("://")
        host = "" if others else path.partition("/")[0]
        home = posixpath.dirname(sheet)
        whence = json.dumps([scheme, host, *others, home])
        told = hashlib.sha256(whence.encode()).hexdigest()[:12]
        try:
            name = safe_name(posixpath.basename(home))[:60]
        except ValueError:
            name = "trial"
        return folder / FETCHED / told / name

    def names(self, home: str) -> set[str]:
        """The files of a trial's folder, as a sheet names them.

        None that leads out of it: an archive may hold names of any kind.
        """
        start = home if not home or home.endswith("/") else f"{home}/"
        below = {
            str(path).removeprefix(start)
            for path in self.files.find(home, maxdepth=None)
            if str(path).startswith(start)
        }
        return {name for name in below if not name.startswith("/") and _is_plain(name)}

    def get(self, path: str, to: Path) -> None:
        """Copy a file to here."""
        self.files.get_file(path, str(to))

    def mark(self, path: str) -> str:
        """What changes when a file does: its size, time, version, as far as its place tells.

        Not fsspec's own `ukey`, which for archives is another each time.
        """
        facts = self.files.info(path)
        plain = {
            str(name): str(value)
            for name, value in facts.items()
            if isinstance(value, str | int | float | tuple | datetime)
        }
        return hashlib.sha256(json.dumps(plain, sort_keys=True).encode()).hexdigest()


def _is_plain(name: str) -> bool:
    return posixpath.normpath(name) == name and ".." not in PurePosixPath(name).parts


def fetch(address: str, folder: Path) -> dict[Path, SheetError | None]:
    """Fetch the trials at an address or pattern into a series' folder.

    Returns
    -------
    Where the sheet of each is, with the reason where the trial could not be fetched.

    Raises
    ------
    SheetError
        Where nothing can be looked for at the address, or fsspec has no way to it.
    OutputError
        Where the series' folder does not take what is fetched.
    """
    try:
        from fsspec.core import url_to_fs
    except ImportError as error:
        raise SheetError(
            f"{address} needs fsspec, which is not installed",
            key="trials",
            advice="install trialreel with its extra: pip install 'trialreel[cluster]'",
        ) from error
    try:
        files, path = url_to_fs(address)
        source = _Source(files=files, address=address)
        sheets = source.found(path)
    # Every file system has errors of its own: of the network, of keys, of what is not installed.
    except Exception as error:
        raise _unfetched(address, error) from error
    made: dict[Path, SheetError | None] = {}
    for sheet in sheets:
        own = source.place(sheet, folder)
        told = f"{sheet}, which {address} finds," if glob.has_magic(path) else address
        made[own / posixpath.basename(sheet)] = _tried(source, sheet, own, told)
    return made


def _tried(source: _Source, sheet: str, own: Path, told: str) -> SheetError | None:
    """Fetch one trial; why it could not be, if so: the others are fetched all the same."""
    try:
        fetch_trial(source, sheet, own)
    except OutputError:
        raise
    except SheetError as error:
        return error
    except Exception as error:  # noqa: BLE001 - as above, and the other trials are to go on
        return _unfetched(told, error)
    return None


def _unfetched(told: str, error: Exception) -> SheetError:
    reason = " ".join(str(error).split()) or type(error).__name__
    if isinstance(error, FileNotFoundError) and error.strerror is None:
        reason = f"there is no {reason}"
    return SheetError(
        f"{told} cannot be fetched ({reason})",
        key="trials",
        advice="check the address, and that fsspec can reach it from here",
    )
