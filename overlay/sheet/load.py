"""From `trial.toml` to the model, with one clear sentence for whatever is wrong in it."""

from __future__ import annotations

import difflib
import tomllib
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from overlay.errors import SheetError
from overlay.sheet.document_text import text_of
from overlay.sheet.model import TrialSheet

_LARGEST_BYTES = 2_000_000


def load_sheet(path: Path) -> TrialSheet:
    """Read a trial sheet.

    Raises
    ------
    SheetError
        Where the file is missing or unreadable, is no TOML, has a key that does not exist or
        a value that makes no sense. The first defect is told, with its key and, where one is
        near, the key or value that was probably meant.
    """
    text = _read(path)
    try:
        document = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise SheetError(f"this is not TOML: {error}", path=path) from error
    try:
        return TrialSheet.model_validate(document)
    except ValidationError as error:
        raise _explain(error, path, text) from error


def sheet_schema() -> dict[str, Any]:
    """The JSON Schema of a trial sheet, written from the model."""
    schema = TrialSheet.model_json_schema(by_alias=True)
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "trial sheet, trial/1"
    return schema


def _read(path: Path) -> str:
    return text_of(
        path,
        "trial sheet",
        most_bytes=_LARGEST_BYTES,
        absent="`trialreel new FOLDER` writes one for a folder of logs and footage",
        folder="name the trial.toml in it",
    )


def _explain(error: ValidationError, path: Path, text: str) -> SheetError:
    # An unknown key explains a missing one ("lenght"), so it is told first.
    problems = sorted(error.errors(), key=lambda problem: problem["type"] != "extra_forbidden")
    problem = problems[0]
    place = tuple(problem["loc"])
    key = _dotted(place)
    line = _line_of(text, place)
    if problem["type"] == "extra_forbidden":
        known = _keys_at(place[:-1])
        wrong = str(place[-1])
        near = difflib.get_close_matches(wrong, known, n=1, cutoff=0.5)
        return SheetError(
            "no such key",
            path=path,
            line=line,
            key=key,
            allowed=() if near else tuple(known),
            advice=f"did you mean {near[0]!r}" if near else "",
        )
    if problem["type"] == "missing":
        return SheetError("this key is missing", path=path, line=line, key=key)
    if problem["type"] == "literal_error":
        allowed = tuple(_literals(problem))
        given = str(problem["input"])
        near = difflib.get_close_matches(given, [a.strip("'") for a in allowed], n=1, cutoff=0.7)
        return SheetError(
            f"{given!r} is not allowed here",
            path=path,
            line=line,
            key=key,
            allowed=allowed,
            advice=f"did you mean {near[0]!r}" if near else "",
        )
    message = str(problem.get("ctx", {}).get("error") or _in_words(problem)).rstrip(".")
    return SheetError(message, path=path, line=line, key=key or None)


_WANTED = {
    "date": "a day, such as 2026-06-11 without quotes",
    "datetime": "a time with its zone, such as 2026-06-11T09:14:03Z without quotes",
    "float": "a number",
    "int": "a whole number",
    "string": "text in quotes",
    "bool": "true or false",
    "list": "a list in square brackets",
    "model": "a table",
    "dict": "a table",
    "tuple": "two numbers in square brackets",
}


def _in_words(problem: Any) -> str:
    """What is wrong with a value, in the words of a sheet's writer."""
    kind = str(problem["type"])
    given = problem["input"]
    shown = f"'{given}'" if isinstance(given, str) else f"{given}"
    limits = problem.get("ctx", {})
    for name, text in (("ge", "less than"), ("gt", "not more than"), ("lt", "not less than")):
        if name in limits:
            return f"{shown} is {text} {limits[name]}"
    if "le" in limits:
        return f"{shown} is more than {limits['le']}"
    wanted = next((text for name, text in _WANTED.items() if kind.startswith(name)), None)
    return f"{shown} is not {wanted}" if wanted else str(problem["msg"])


def _literals(problem: Any) -> list[str]:
    expected = str(problem.get("ctx", {}).get("expected", ""))
    return [part.strip() for part in expected.replace(" or ", ", ").split(", ") if part.strip()]


def _dotted(place: tuple[int | str, ...]) -> str:
    """`("logs", 1, "file")` as `logs[2].file`: people count from one."""
    text = ""
    for part in place:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            text += f".{part}" if text else part
    return text


def _line_of(text: str, place: tuple[int | str, ...]) -> int | None:
    """The line on which a key stands, as far as the plain shape of TOML tells it."""
    headers = [part for part in place[:-1] if isinstance(part, str)]
    wanted = next((part for part in place if isinstance(part, int)), None)
    last = next((str(part) for part in reversed(place) if isinstance(part, str)), "")
    seen = -1
    inside = not headers
    for number, line in enumerate(text.splitlines(), start=1):
        bare = line.strip()
        if bare.startswith("["):
            name = bare.strip("[]").split("#")[0].strip(" ]")
            if headers and name == ".".join(headers):
                seen += 1
                inside = wanted is None or seen == wanted
            else:
                inside = False
            if name == last and len(place) == 1:
                return number
        elif inside and bare.split("=")[0].strip() == last:
            return number
    return None


def _keys_at(place: tuple[int | str, ...]) -> list[str]:
    """The keys that the model knows at a place."""
    model: type[BaseModel] = TrialSheet
    for part in place:
        if isinstance(part, int):
            continue
        annotation = model.model_fields[part].annotation
        model = next(_models_in(annotation), model)
    return [field.alias or name for name, field in model.model_fields.items()]


def _models_in(annotation: Any) -> Any:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in getattr(annotation, "__args__", ()):
        yield from _models_in(inner)
