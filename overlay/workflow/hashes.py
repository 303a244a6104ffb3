"""What went into a result: content hashes for the ledger, quick stamps for sidecars."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.errors import OutputError
from overlay.trial import Material

if TYPE_CHECKING:
    from sync.media import Footage


_BLOCK = 1 << 22
_stopped = threading.Event()
_remembered: dict[tuple[Path, str], str] = {}


def sha256_of(path: Path) -> str:
    """The SHA-256 of a file's content, in hexadecimal; of a file that did not change since it was
    last asked for, from memory.

    Raises
    ------
    OutputError
        Where it cannot be read any more.
    """
    try:
        stamp = stamp_of(path)
        return _remembered.get((path, stamp)) or _hashed(path, stamp)
    except OSError as error:
        raise OutputError(
            f"this input cannot be read any more ({error.strerror or error})",
            path=path,
            advice="put it back where it was, and begin anew",
        ) from error


def remember_hash(path: Path, stamp: str, sha256: str) -> None:
    """Take over a hash that was found before, of a file as it was at a stamp."""
    _remembered[path, stamp] = sha256


@lru_cache(maxsize=256)
def _hashed(path: Path, stamp: str) -> str:
    del stamp  # it is there to tell a file from what it was before
    total = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            if _stopped.is_set():
                raise InterruptedError
            total.update(block)
    return total.hexdigest()


def stamp_of(path: Path) -> str:
    """Size and time of change of a file: enough to notice that it was replaced."""
    status = path.stat()
    return f"{status.st_size}:{status.st_mtime_ns}"


def input_stamps(material: Material) -> dict[str, str]:
    """Stamps of everything that a tie rests on: the sheet by content, the rest by stamp."""
    stamps = {"software": version("trialreel"), "sheet": sha256_of(material.sheet_path)}
    stamps |= {f"log:{name}": stamp_of(log.path) for name, log in material.logs.items()}
    for name, film in material.footage.items():
        stamps |= {key: stamp_of(path) for key, path in _files(name, film)}
    return stamps


@contextmanager
def hashing(work: Callable[[], dict[str, str]]) -> Iterator[Future[dict[str, str]]]:
    """Hash beside other work: hours of footage take minutes to read, and nobody waits for it
    until the end."""
    pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="trialreel-hash")
    _stopped.clear()
    try:
        yield pool.submit(work)
    except BaseException:
        _stopped.set()  # who was interrupted does not wait for hours of footage
        raise
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
        _stopped.clear()


def input_hashes(material: Material, recording: str) -> dict[str, str]:
    """Content hashes of everything that one clip rests on."""
    hashes = log_hashes(material)
    film = material.footage[recording]
    hashes |= {key: sha256_of(path) for key, path in _files(recording, film)}
    if film.proxy is not None:
        twins = enumerate(film.proxy.paths, 1)
        hashes |= {f"proxy:{recording}/{n}": sha256_of(path) for n, path in twins}
    return hashes


def log_hashes(material: Material) -> dict[str, str]:
    """Content hashes of the sheet and the logs."""
    hashes = {"sheet": sha256_of(material.sheet_path)}
    return hashes | {f"log:{name}": sha256_of(log.path) for name, log in material.logs.items()}


def _files(recording: str, film: Footage) -> list[tuple[str, Path]]:
    """The files of a recording by keys: its name for the first, and a number behind a slash,
    which no name has, for those after it."""
    return [
        (f"footage:{recording}" if n == 1 else f"footage:{recording}/{n}", path)
        for n, path in enumerate(film.paths, 1)
    ]
