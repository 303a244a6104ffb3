"""From a claims file to its claims."""

from __future__ import annotations

from pathlib import Path

from overlay.sheet.claims import SCHEMA, ClaimsFile
from overlay.sheet.typed_document import Kind

_CLAIMS = Kind(
    model=ClaimsFile,
    name="claims file",
    schema=SCHEMA,
    absent="check the path",
    folder="name the file of claims in it",
    wanted={"list": "a list of [[claims]] tables"},
    empty=("there is no claim in it", "begin each with [[claims]]"),
)


def load_claims(path: Path) -> ClaimsFile:
    """Read a claims file.

    Raises
    ------
    SheetError
        Where it cannot be read, is no TOML, is of another schema, or has a key or a value that
        cannot stand there; with the nearest key or value that can.
    """
    return _CLAIMS.read(path)
