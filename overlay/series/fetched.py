"""A trial that is fetched from elsewhere, as it is kept in the folder of a series.

::

    fetched/HASH/NAME/          a trial, by the hash of where it comes from and its folder's name
    fetched/HASH/.fetched.json  what was fetched of it, by name, each as its mark was then
    fetched/HASH/.lock          held by who fetches it
    fetched/HASH/.PID.part      what is being fetched
"""

from __future__ import annotations

import errno
import json
import logging
import os
import posixpath
import time
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from overlay.errors import OutputError, SheetError
from overlay.series.locks import LockedError, locked
from overlay.sheet import load_sheet
from overlay.workflow.files import write_json

MARKS, LOCK = ".fetched.json", ".lock"
WAIT_S = 0.2
FULL = (errno.ENOSPC, errno.EDQUOT)

_log = logging.getLogger(__name__)


class Source(Protocol):
    """Where trials are fetched from."""

    def names(self, home: str) -> set[str]:
        """The files of a trial's folder, as a sheet names them."""

    def mark(self, path: str) -> str:
        """What changes when a file does."""

    def get(self, path: str, to: Path) -> None:
        """Copy a file to here."""


def fetch_trial(source: Source, sheet: str, own: Path) -> None:
    """Fetch one trial, but for what is here already and did not change.

    Of a sheet that cannot be used, only itself: who plans says what is wrong with it. Beside what
    is raised here there are the errors of the source's file system.

    Raises
    ------
    SheetError
        Where a file cannot be put in its place.
    OutputError
        Where the disk does not take it.
    """
    with _alone(own.parent):
        marks = _marks(own.parent)
        kept = _Kept(source=source, home=posixpath.dirname(sheet), own=own, marks=dict(marks))
        try:
            kept.take_all(posixpath.basename(sheet))
        finally:
            if kept.marks != marks:
                write_json(own.parent / MARKS, kept.marks)


@contextmanager
def _alone(place: Path) -> Iterator[None]:
    """Keep others from a place, such as another run of the series; wait while one is at it."""
    with ExitStack() as held:
        try:
            place.mkdir(parents=True, exist_ok=True)
            _wait_for(place / LOCK, held)
            for part in place.glob(".*.part"):  # of a process that was killed
                part.unlink(missing_ok=True)
        except OSError as error:
            raise _unwritten(place, error) from error
        yield


def _wait_for(lock: Path, held: ExitStack) -> None:
    told = False
    while True:
        try:
            held.enter_context(locked(lock))
        except LockedError:
            if not told:
                _log.info("waiting for who fetches to %s", lock.parent)
            told = True
            time.sleep(WAIT_S)
        else:
            return


def _unwritten(place: Path, error: OSError) -> OutputError:
    if error.errno in FULL:
        return OutputError(
            "the disk is full, and the trial was not fetched",
            path=place,
            advice="make room, or have the series on another disk",
        )
    return OutputError(
        f"this cannot be written ({error.strerror or error})",
        path=place,
        advice="have the series in a folder that you may write to",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kept:
    """What is kept of a trial: files, each with the mark that it had when it was fetched."""

    source: Source
    home: str
    own: Path
    marks: dict[str, str]

    def take_all(self, sheet: str) -> None:
        """Have a sheet, what it names and its ties."""
        path = self.take(sheet)
        try:
            named = set(_texts(load_sheet(path).model_dump(mode="json")))
        except SheetError:
            return
        there = self.source.names(self.home)
        for name in sorted(there & {*named, f"{path.stem}.ties.json"}):
            self.take(name)
        for name in (named & self.marks.keys()) - there:
            self.drop(name)

    def take(self, name: str) -> Path:
        """Have a file here as it is there."""
        far, near = posixpath.join(self.home, name), self._near(name)
        mark = self.source.mark(far)
        if mark != self.marks.get(name) or not near.is_file():
            self._fetch(far, near)
            self.marks[name] = mark  # only now: what failed is fetched again
        return near

    def drop(self, name: str) -> None:
        """Have a file no more that is gone there, lest a clip be made of it."""
        self._near(name).unlink(missing_ok=True)
        del self.marks[name]

    def _near(self, name: str) -> Path:
        near = self.own / name
        if not near.resolve().is_relative_to(self.own.resolve()):
            raise SheetError(
                f"a link leads out of the trial's folder, {self.own}",
                path=near,
                advice="remove it, and the file is fetched",
            )
        return near

    def _fetch(self, far: str, near: Path) -> None:
        part = self.own.parent / f".{os.getpid()}.part"
        try:
            self.source.get(far, part)
            self._put(part, near)
        except OSError as error:
            if error.errno in FULL:
                raise _unwritten(near, error) from error
            raise
        finally:
            part.unlink(missing_ok=True)

    def _put(self, part: Path, near: Path) -> None:
        try:
            near.parent.mkdir(parents=True, exist_ok=True)
            part.replace(near)
        except OSError as error:
            if error.errno in FULL:
                raise
            raise SheetError(
                f"this cannot be put in its place ({error.strerror})",
                path=near,
                advice=f"remove {self.own.parent}, and all of it is fetched again",
            ) from error


def _marks(place: Path) -> Mapping[str, str]:
    with suppress(OSError, ValueError, AttributeError):
        found = json.loads((place / MARKS).read_bytes())
        return {str(name): str(mark) for name, mark in found.items()}
    return {}


def _texts(value: Any) -> Iterator[str]:
    """Every text that stands anywhere in a sheet, as a name of a file would be written."""
    if isinstance(value, dict):
        for one in value.values():
            yield from _texts(one)
    elif isinstance(value, list):
        for one in value:
            yield from _texts(one)
    elif isinstance(value, str):
        yield posixpath.normpath(value)
