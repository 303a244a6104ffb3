"""Files that are there whole or not at all."""

from __future__ import annotations

import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def beside(path: Path) -> Iterator[Path]:
    """A temporary path in the same folder, moved to `path` when the block ends well."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.stem}.{secrets.token_hex(4)}{path.suffix}")
    try:
        yield part
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def write_text(path: Path, text: str) -> None:
    """Write a text file; what stands in the text, line ends included, is what is written."""
    with beside(path) as part:
        part.write_bytes(text.encode("utf-8"))


def copy_file(source: Path, path: Path) -> None:
    """Copy a file beside its place and move it there."""
    with beside(path) as part:
        shutil.copyfile(source, part)
