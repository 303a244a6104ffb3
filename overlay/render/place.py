"""Where a clip is put: written beside its place, and moved there when it is whole."""

from __future__ import annotations

import errno
import os
import secrets
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from overlay.errors import OutputError
from overlay.render.recipe import CONTAINERS

SPARE_BYTES = 16 * 2**20
"""Room asked for beyond the estimate: indexes, the ledger, and other programs."""

_LONGEST_STEM = 100


@contextmanager
def placed(output: Path, *, sources: Sequence[Path], need_bytes: int) -> Iterator[Path]:
    """Check a place, and lend a temporary name beside it to write to.

    When the block ends well, what was written is moved to its place; however else the block
    ends, it is removed.

    Parameters
    ----------
    output
        The finished file. One that is there already is replaced, in one step.
    sources
        Files that must not be overwritten, by whatever name they are reached.
    need_bytes
        An estimate of what will be written.

    Raises
    ------
    OutputError
        Where the place cannot be written to or must not be, or the disk is too full.
    """
    _check_place(output, sources)
    check_room(output, need_bytes)
    part = output.with_name(
        f".{output.stem[:_LONGEST_STEM]}.{secrets.token_hex(4)}.part{output.suffix}"
    )
    try:
        yield part
        _move(part, output)
    finally:
        part.unlink(missing_ok=True)


def _check_place(output: Path, sources: Sequence[Path]) -> None:
    if output.suffix.lower() not in CONTAINERS:
        raise OutputError(
            f"clips cannot be written as {output.suffix or 'a file without an ending'}",
            path=output,
            allowed=tuple(CONTAINERS),
        )
    if output.is_dir():
        raise OutputError(
            "is a folder, and the clip needs a file's name", path=output, advice="add a file name"
        )
    if not output.parent.is_dir():
        raise OutputError(
            "the folder for this clip does not exist",
            path=output,
            advice=f"make the folder {output.parent} first",
        )
    for source in sources:
        if _same(output, source):
            raise OutputError(
                f"the clip would overwrite the footage {source}",
                path=output,
                advice="give the clip another name",
            )
    if not os.access(output.parent, os.W_OK | os.X_OK):
        raise OutputError(
            "the folder for this clip may not be written to",
            path=output,
            advice="choose another folder, or change its permissions",
        )


def _same(output: Path, source: Path) -> bool:
    """Whether two names lead to one file, through links of either kind too."""
    try:
        return output.samefile(source)
    except OSError:
        return output.resolve() == source.resolve()


def check_room(output: Path, need_bytes: int) -> None:
    """See that the disk has room for a clip before it is begun.

    Raises
    ------
    OutputError
        Where it has not.
    """
    free = shutil.disk_usage(output.parent).free
    if free < need_bytes + SPARE_BYTES:
        raise OutputError(
            f"the disk has {_megabytes(free)} free, and this clip may take"
            f" {_megabytes(need_bytes + SPARE_BYTES)}",
            path=output,
            advice="make room, or write to another disk",
        )


def _megabytes(size: int) -> str:
    return f"{size / 1e6:,.0f} MB"


def _move(part: Path, output: Path) -> None:
    try:
        part.replace(output)
    except OSError as error:
        raise write_error(error, output) from error


def write_error(error: Exception, output: Path) -> OutputError:
    """What to say of an error that FFmpeg or the system gave while writing."""
    number = getattr(error, "errno", None)
    if number == errno.ENOSPC:
        return OutputError(
            "the disk is full, and the clip was not finished",
            path=output,
            advice="make room, or write to another disk",
        )
    reason = getattr(error, "strerror", None) or str(error)
    return OutputError(
        f"the clip cannot be written ({reason})",
        path=output,
        advice="check the disk and its permissions, or write to another folder",
    )
