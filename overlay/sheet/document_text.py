"""The text of a document that somebody wrote, or one sentence on why it cannot be had."""

from __future__ import annotations

from pathlib import Path

from overlay.errors import SheetError


def text_of(path: Path, what: str, *, most_bytes: int, absent: str, folder: str) -> str:
    """The text of a document.

    Parameters
    ----------
    what
        What it ought to be: `trial sheet`.
    most_bytes
        A larger file is none.
    absent, folder
        What to do where there is no such file, or a folder in its place.

    Raises
    ------
    SheetError
        Where it cannot be read, is larger, or is not UTF-8.
    """
    try:
        if path.stat().st_size > most_bytes:
            raise SheetError(f"this is too large to be a {what}", path=path)
        return path.read_text(encoding="utf-8")
    except FileNotFoundError as error:
        raise SheetError(f"there is no such {what}", path=path, advice=absent) from error
    except IsADirectoryError as error:
        raise SheetError("this is a folder", path=path, advice=folder) from error
    except UnicodeDecodeError as error:
        raise SheetError("this is not UTF-8 text, as TOML must be", path=path) from error
    except OSError as error:
        raise SheetError(f"this cannot be read ({error.strerror})", path=path) from error
