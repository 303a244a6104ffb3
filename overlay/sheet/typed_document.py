"""From a TOML document that somebody wrote to its model, with one clear sentence for what is wrong.

Sheets, claims and series are read here, so that a slip is told alike in each of them: the first
defect, with its line, its key and, where one is near, the key or value that was probably meant.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Generic, TypeVar

from pydantic import BaseModel, ValidationError

from overlay.errors import SheetError

Model = TypeVar("Model", bound=BaseModel)
Place = tuple[int | str, ...]

_LARGEST_BYTES = 2_000_000
_AT_LINE = re.compile(r"\(at line (\d+), column \d+\)")
_HEADER = re.compile(r"\s*(\[\[?)\s*([\w.-]+)\s*\]")
_KEY = re.compile(r"\s*([\w-]+(?:\.[\w-]+)*)\s*=")

_WANTED = {
    "date": "a day, such as 2026-06-11 without quotes",
    "datetime": "a time with its zone, such as 2026-06-11T09:14:03Z without quotes",
    "finite": "a finite number",
    "float": "a number",
    "int": "a whole number",
    "string": "text in quotes",
    "bool": "true or false",
    "list": "a list in square brackets",
    "model": "a table",
    "dict": "a table",
    "tuple": "two numbers in square brackets",
}
_BOUNDS = {"ge": "less than", "gt": "not more than", "lt": "not less than", "le": "more than"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind(Generic[Model]):
    """A kind of document.

    Parameters
    ----------
    name
        What it is called: `trial sheet`.
    schema
        What its key `schema` must say; None where the model sees to that.
    absent, folder
        What to do where there is no such file, or a folder in its place.
    wanted
        What has to stand where something else does, by the beginning of pydantic's own word for
        the mistake, where that is not what it is elsewhere.
    empty
        What is said of an empty list, and what to do.
    """

    model: type[Model]
    name: str
    schema: str | None = None
    absent: str
    folder: str
    wanted: Mapping[str, str] = field(default_factory=dict)
    empty: tuple[str, str] = ("this list is empty", "")

    def read(self, path: Path) -> Model:
        """Read a document.

        Raises
        ------
        SheetError
            Where it cannot be read, is too large, is no TOML, is of another schema, or has a key or
            a value that cannot stand there.
        """
        text = self._text_of(path)
        try:
            document = tomllib.loads(text)
        except (ValueError, RecursionError) as error:
            raise _no_toml(error, path) from error
        found = document.get("schema")
        if self.schema not in (None, found):
            what = "the schema is missing" if found is None else f"the schema is {found!r}"
            advice = f'write schema = "{self.schema}"'
            raise SheetError(what, path=path, key="schema", advice=advice)
        try:
            return self.model.model_validate(document)
        except ValidationError as error:
            raise self._explain(error, path, text) from error

    def _text_of(self, path: Path) -> str:
        try:
            if path.stat().st_size > _LARGEST_BYTES:
                raise SheetError(f"this is too large to be a {self.name}", path=path)
            return path.read_text(encoding="utf-8")
        except FileNotFoundError as error:
            told = f"there is no such {self.name}"
            raise SheetError(told, path=path, advice=self.absent) from error
        except IsADirectoryError as error:
            raise SheetError("this is a folder", path=path, advice=self.folder) from error
        except UnicodeDecodeError as error:
            raise SheetError("this is not UTF-8 text, as TOML must be", path=path) from error
        except OSError as error:
            raise SheetError(f"this cannot be read ({error.strerror})", path=path) from error

    def _explain(self, error: ValidationError, path: Path, text: str) -> SheetError:
        """The first defect; an unknown key comes first, for it explains a missing one."""
        problem = min(error.errors(), key=lambda one: one["type"] != "extra_forbidden")
        kind, place, given = problem["type"], tuple(problem["loc"]), problem["input"]
        limits = problem.get("ctx", {})
        allowed: tuple[str, ...] = ()
        advice = ""
        if kind == "extra_forbidden":
            told = "no such key"
            allowed, advice = _meant(str(place[-1]), _keys_at(self.model, place[:-1]), 0.5)
        elif kind == "missing":
            told = "this key is missing"
        elif kind == "literal_error":
            told = f"{given!r} is not allowed here"
            words = tuple(re.findall(r"'([^']*)'", str(limits.get("expected", ""))))
            _, advice = _meant(str(given), words, 0.6)
            allowed = words
        elif "error" in limits:
            told = str(limits["error"]).rstrip(".")
        elif kind == "too_short":
            told, advice = self.empty
        else:
            told = self._in_words(kind, given, limits)
        return SheetError(
            told,
            path=path,
            line=_line_of(text, place),
            key=_dotted(place) or None,
            allowed=allowed,
            advice=advice,
        )

    def _in_words(self, kind: str, given: object, limits: Mapping[str, Any]) -> str:
        """What is wrong with a value, in the words of whoever wrote it."""
        bounds = {
            "ge": "less than",
            "gt": "not more than",
            "lt": "not less than",
            "le": "more than",
        }
        for name, words in bounds.items():
            if name in limits:
                return f"{given!r} is {words} {limits[name]}"
        known = {**_WANTED, **self.wanted}
        wanted = next((words for start, words in known.items() if kind.startswith(start)), None)
        return f"{given!r} is not {wanted}" if wanted else f"{given!r} cannot stand here"


def _no_toml(error: Exception, path: Path) -> SheetError:
    place = _AT_LINE.search(str(error))
    return SheetError(
        f"this is not TOML: {_AT_LINE.sub('', str(error)).strip()}",
        path=path,
        line=int(place[1]) if place else None,
    )


def _meant(given: str, known: tuple[str, ...], alike: float) -> tuple[tuple[str, ...], str]:
    """What is known, unless something of it is near, and what that is."""
    near = difflib.get_close_matches(given, known, n=1, cutoff=alike)
    return ((), f"did you mean {near[0]!r}") if near else (known, "")


def _dotted(place: Place) -> str:
    """`("logs", 1, "file")` as `logs[2].file`: people count from one."""
    text = ""
    for part in place:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            text += f".{part}" if text else part
    return text


def _line_of(text: str, place: Place) -> int | None:
    """The line on which a place stands, or else the nearest that it lies within."""
    lines = _lines_of(text)
    return next((lines[place[:end]] for end in range(len(place), 0, -1) if place[:end] in lines),
                None)  # fmt: skip


def _lines_of(text: str) -> dict[Place, int]:
    """The lines of tables and keys, by their places, as far as the plain shape of TOML tells it."""
    lines: dict[Place, int] = {}
    counts: dict[tuple[str, ...], int] = {}
    table: Place = ()
    for number, line in enumerate(text.splitlines(), start=1):
        if header := _HEADER.match(line):
            names = tuple(header[2].split("."))
            if header[1] == "[[":
                counts[names] = counts.get(names, -1) + 1
                # What lies within a new table is counted from the beginning again.
                within = [
                    one for one in counts if len(one) > len(names) and one[: len(names)] == names
                ]
                for one in within:
                    del counts[one]
            table = _counted(names, counts)
            lines.setdefault(table, number)
        elif key := _KEY.match(line):
            lines.setdefault((*table, *key[1].split(".")), number)
    return lines


def _counted(names: tuple[str, ...], counts: Mapping[tuple[str, ...], int]) -> Place:
    """`("clips", "ties")` as `("clips", 1, "ties", 0)`, by how many there were of each."""
    place: list[int | str] = []
    for end, name in enumerate(names, start=1):
        place.append(name)
        if names[:end] in counts:
            place.append(counts[names[:end]])
    return tuple(place)


def _keys_at(model: type[BaseModel], place: Place) -> tuple[str, ...]:
    """The keys that a model knows at a place."""
    for part in place:
        named = model.model_fields.get(str(part))
        if named is not None:
            model = next(_models_in(named.annotation), model)
    return tuple(field.alias or name for name, field in model.model_fields.items())


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in getattr(annotation, "__args__", ()):
        yield from _models_in(inner)
