"""From a claims file to its claims, with one clear sentence for whatever is wrong in it."""

from __future__ import annotations

import difflib
import re
import tomllib
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from overlay.errors import SheetError
from overlay.sheet.claims import SCHEMA, Claim, ClaimsFile
from overlay.sheet.document_text import text_of

_LARGEST_BYTES = 2_000_000

_AT_LINE = re.compile(r"\(at line (\d+), column \d+\)")

_WANTED = {
    "string": "text in quotes",
    "list": "a list of [[claims]] tables",
    "model": "a table",
    "dict": "a table",
}


def load_claims(path: Path) -> ClaimsFile:
    """Read a claims file.

    Raises
    ------
    SheetError
        Where it cannot be read, is no TOML, is of another schema, or has a key or a value that
        cannot stand there; with the nearest key or value that can.
    """
    text = _read(path)
    try:
        document = tomllib.loads(text)
    except (ValueError, RecursionError) as cause:
        place = _AT_LINE.search(str(cause))
        raise SheetError(
            f"this is not TOML: {_AT_LINE.sub('', str(cause)).strip()}",
            path=path,
            line=int(place[1]) if place else None,
        ) from cause
    found = document.get("schema")
    if found != SCHEMA:
        what = "the schema is missing" if found is None else f"the schema is {found!r}"
        raise SheetError(what, path=path, key="schema", advice=f'write schema = "{SCHEMA}"')
    try:
        return ClaimsFile.model_validate(document)
    except ValidationError as cause:
        raise _explain(cause, path, text) from cause


def _read(path: Path) -> str:
    return text_of(
        path,
        "claims file",
        most_bytes=_LARGEST_BYTES,
        absent="check the path",
        folder="name the file of claims in it",
    )


def _explain(cause: ValidationError, path: Path, text: str) -> SheetError:
    """The first defect as a sentence; an unknown key comes first, for it explains a missing one."""
    problems = sorted(cause.errors(), key=lambda problem: problem["type"] != "extra_forbidden")
    problem = problems[0]
    place = tuple(problem["loc"])
    index = next((part for part in place if isinstance(part, int)), None)
    where: dict[str, Any] = {
        "path": path,
        "key": _dotted(place) or None,
        "line": _line_of(text, index, place[-1] if isinstance(place[-1], str) else None),
    }
    if problem["type"] == "extra_forbidden":
        model = ClaimsFile if index is None else Claim
        known = [field.alias or name for name, field in model.model_fields.items()]
        near = difflib.get_close_matches(str(place[-1]), known, n=1, cutoff=0.5)
        hint = f"did you mean {near[0]!r}" if near else ""
        return SheetError("no such key", allowed=() if near else tuple(known), advice=hint, **where)
    if problem["type"] == "missing":
        return SheetError("this key is missing", **where)
    given = problem["input"]
    if problem["type"] == "literal_error":
        allowed = _words(Claim.model_fields[str(place[-1])].annotation)
        near = difflib.get_close_matches(str(given), allowed, n=1, cutoff=0.6)
        hint = f"did you mean {near[0]!r}" if near else ""
        return SheetError(f"{given!r} is not allowed here", allowed=allowed, advice=hint, **where)
    own = problem.get("ctx", {}).get("error")
    if own is not None:
        return SheetError(str(own).rstrip("."), **where)
    if problem["type"] == "too_short":
        return SheetError("there is no claim in it", advice="begin each with [[claims]]", **where)
    wanted = next(
        (words for kind, words in _WANTED.items() if problem["type"].startswith(kind)), ""
    )
    return SheetError(f"{given!r} is not {wanted}" if wanted else str(problem["msg"]), **where)


def _words(annotation: Any) -> tuple[str, ...]:
    """The words of a `Literal`, also within `Literal | None`."""
    found: list[str] = []
    for part in getattr(annotation, "__args__", ()):
        found += [part] if isinstance(part, str) else _words(part)
    return tuple(found)


def _dotted(place: tuple[int | str, ...]) -> str:
    """`("claims", 1, "value")` as `claims[2].value`: people count from one."""
    text = ""
    for part in place:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            text += f".{part}" if text else part
    return text


def _line_of(text: str, index: int | None, key: str | None) -> int | None:
    """The line of a key, or of the head of the claim that it is missing from."""
    seen = -1
    head: int | None = None
    for number, line in enumerate(text.splitlines(), start=1):
        bare = line.strip()
        if bare.startswith("["):
            seen += 1
            head = number if seen == index else head
        elif seen == (-1 if index is None else index) and bare.split("=")[0].strip() == key:
            return number
    return head
