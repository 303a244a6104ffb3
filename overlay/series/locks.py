"""Who works on a key: one lock a key, held by the process that does the work.

The lock is the kernel's (`flock`), so that it goes with its holder, however that ends: no lock is
ever stale, and nobody has to guess from a number whether a process is still the same. The file
says who holds it, for people and for `status`. It is removed by its holder; a file whose holder was
killed is taken over like a new one.
"""

from __future__ import annotations

import fcntl
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any


class LockedError(Exception):
    """Somebody else works on this key."""


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold a lock, or say at once that somebody else does.

    Raises
    ------
    LockedError
        Where it is held already.
    OSError
        Where it cannot be written.
    """
    handle = _taken(path)
    try:
        yield
    finally:
        path.unlink(missing_ok=True)  # first: who opens the name after this opens another file
        os.close(handle)


def _taken(path: Path) -> int:
    while True:
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            if _is_at(path, handle):
                _say_who(handle)
                return handle
        except BlockingIOError as error:
            os.close(handle)
            raise LockedError(str(path)) from error
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)  # its holder removed it between our opening and locking it: once more


def _say_who(handle: int) -> None:
    with suppress(OSError):  # a full disk takes the note, not the lock
        os.ftruncate(handle, 0)
        os.write(handle, json.dumps({"pid": os.getpid()}).encode())


def _is_at(path: Path, handle: int) -> bool:
    try:
        there, ours = path.stat(), os.fstat(handle)
    except FileNotFoundError:
        return False
    return (there.st_dev, there.st_ino) == (ours.st_dev, ours.st_ino)


def held(path: Path) -> dict[str, Any] | None:
    """What is said of the holder of a lock; None where nobody holds it."""
    try:
        handle = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
    except OSError:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return _told(handle)
    except OSError:  # no locks here: whoever does the work will say so
        return None
    finally:
        os.close(handle)
    return None


def _told(handle: int) -> dict[str, Any]:
    try:
        told = json.loads(os.pread(handle, 4096, 0))
    except (OSError, ValueError):
        return {}
    return told if isinstance(told, dict) else {}
