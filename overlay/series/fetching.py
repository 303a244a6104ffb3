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
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from overlay.errors import SheetError
from overlay.sheet import load_sheet
from overlay.sheet.fields import safe_name
from overlay.workflow.files import write_json
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


def fetch(address: str, folder: Path) -> list[Path]:
    """Fetch the trials at an address or pattern into a series' folder; returns their sheets.

    Raises
    ------
    SheetError
        Where there is nothing, or fsspec has no way to it.
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
        return [_fetched(source, sheet, folder) for sheet in sheets]
    except SheetError:
        raise
    # Every file system has errors of its own: of the network, of keys, of what is not installed.
    except Exception as error:
        reason = " ".join(str(error).split()) or type(error).__name__
        raise SheetError(
            f"{address} cannot be fetched ({reason})",
            key="trials",
            advice="check the address, and that fsspec can reach it from here",
        ) from error


def _fetched(source: _Source, sheet: str, folder: Path) -> Path:
    """Fetch one trial, but for what is here already and did not change."""
    home = posixpath.dirname(sheet)
    # Two trials may lie in folders of one name: the address tells them apart.
    told = hashlib.sha256(f"{source.address.rpartition('://')[0]} {home}".encode()).hexdigest()[:8]
    own = folder / FETCHED / told / safe_name(posixpath.basename(home) or "trial")[:60]
    own.mkdir(parents=True, exist_ok=True)
    marks = _marks(own)
    kept: dict[str, str] = {}

    def take(name: str) -> Path:
        far, near = posixpath.join(home, name), own / name
        kept[name] = source.mark(far)
        if kept[name] != marks.get(name) or not near.is_file():
            near.parent.mkdir(parents=True, exist_ok=True)
            part = near.with_name(f".{near.name}.part")
            try:
                source.files.get_file(far, str(part))
                part.replace(near)
            finally:
                part.unlink(missing_ok=True)
        return near

    try:
        path = take(posixpath.basename(sheet))
        there = _names(source, home)
        for name in _named(load_sheet(path).model_dump(mode="json"), there):
            take(name)
        ties = f"{path.stem}.ties.json"
        if ties in there:
            take(ties)
    finally:
        write_json(own / ".fetched.json", {**marks, **kept})
    return path


def _marks(own: Path) -> Mapping[str, str]:
    with suppress(OSError, ValueError, AttributeError):
        found = json.loads((own / ".fetched.json").read_bytes())
        return {str(name): str(mark) for name, mark in found.items()}
    return {}


def _names(source: _Source, home: str) -> set[str]:
    """The files of a trial's folder, as a sheet names them."""
    within = source.files.find(home, maxdepth=None)
    return {posixpath.relpath(str(name), home or ".") if home else str(name) for name in within}


def _named(value: Any, there: set[str]) -> Iterator[str]:
    """Every file of the folder that a sheet names anywhere, also by a pattern."""
    if isinstance(value, dict):
        for one in value.values():
            yield from _named(one, there)
    elif isinstance(value, list):
        for one in value:
            yield from _named(one, there)
    elif isinstance(value, str):
        name = posixpath.normpath(value)
        if name in there:
            yield name
