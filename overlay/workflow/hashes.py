"""What went into a result: content hashes for the ledger, quick stamps for sidecars."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.trial import Material

if TYPE_CHECKING:
    from sync.media import Footage


def sha256_of(path: Path) -> str:
    """The SHA-256 of a file's content, in hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


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
    try:
        yield pool.submit(work)
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


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
