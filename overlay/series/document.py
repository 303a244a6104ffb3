"""`series.toml`: which clips of which trials, in which shapes and units, within which limits."""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, Field, ValidationError

from overlay.errors import SheetError
from overlay.sheet.document_text import text_of
from overlay.sheet.fields import FileName, Name
from overlay.sheet.quantities import Uncertainty
from overlay.sheet.tested import Part

SCHEMA = "series/1"
FILE_NAME = "series.toml"
_LARGEST_BYTES = 2_000_000

Shape = Literal["wide", "upright", "square"]
Units = Literal["us", "nautical", "metric"]
Stretch = Annotated[Uncertainty, Field(gt=0)]

_MEMORY = re.compile(r"\s*(\d+(?:\.\d+)?)\s*([kMGT]i?B)\s*")
_BYTES = {"kB": 1e3, "MB": 1e6, "GB": 1e9, "TB": 1e12,
          "kiB": 2**10, "MiB": 2**20, "GiB": 2**30, "TiB": 2**40}  # fmt: skip
LEAST_MEMORY_BYTES = 50_000_000
"""Less than the bare program takes cannot be meant."""
LEAST_PIECE_S = 0.25
"""At 24 frames a second still three in the half of it, which is the least that a piece has."""


def memory_bytes(value: object) -> int:
    """An amount of memory such as `4 GB`."""
    found = _MEMORY.fullmatch(value) if isinstance(value, str) else None
    if found is None:
        message = f"{value!r} is not an amount of memory; write for example '4 GB'"
        raise ValueError(message)
    size = int(float(found[1]) * _BYTES[found[2]])
    if size < LEAST_MEMORY_BYTES:
        message = f"{value!r} is less than any job takes; write for example '4 GB'"
        raise ValueError(message)
    return size


def piece_s(length_s: float) -> float:
    """The length of a piece, where it is long enough to be one."""
    if length_s < LEAST_PIECE_S:
        message = f"{length_s:g} s is too short for a piece; write at least '{LEAST_PIECE_S} s'"
        raise ValueError(message)
    return length_s


class Matrix(Part):
    """Every clip once for each combination; without shapes or units as the sheet has it."""

    shapes: list[Shape] = Field(default_factory=list)
    units: list[Units] = Field(default_factory=list)


class Limits(Part):
    """What the jobs may take together, and one of them alone."""

    cores: Annotated[int, Field(ge=1, le=1024)] | None = Field(
        None, description="jobs at once; without it as many as the machine has cores"
    )
    memory: Annotated[int, BeforeValidator(memory_bytes)] | None = Field(
        None, description="'4 GB', for all jobs together; without it four fifths of the machine's"
    )
    timeout: Stretch | None = Field(
        None, description="'30 min' for one job; without it ten times what it is estimated at"
    )
    piece: Annotated[Stretch, AfterValidator(piece_s)] = Field(
        300.0, description="a clip that is longer is made in pieces of at most this length"
    )


class SeriesDocument(Part):
    """What a series is: trials, clips, shared settings, a matrix and limits."""

    schema_: Literal["series/1"] = Field(alias="schema")
    name: Name = "series"
    trials: Annotated[list[FileName], Field(min_length=1)]
    clips: Annotated[list[str], Field(min_length=1)] = Field(default_factory=lambda: ["*"])
    audit: bool = True
    encoder: Literal["x264", "x265", "svt-av1", "prores", "hardware"] | None = None
    quality: Literal["draft", "upload", "master"] = "upload"
    handles: Annotated[Uncertainty, Field(le=600)] | None = None
    strip_location: bool = False
    faceplate: str | None = None
    matrix: Matrix = Matrix()
    limits: Limits = Limits()


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """A series that was asked for, and the folder that its paths start from."""

    document: SeriesDocument
    base: Path

    @property
    def folder(self) -> Path:
        """Where everything that the series makes goes."""
        from overlay.sheet.fields import safe_name

        return self.base / f"{safe_name(self.document.name)}.series"


def load_series(path: Path) -> Series:
    """Read a `series.toml`.

    Raises
    ------
    SheetError
        Where it cannot be read, or has a key or a value that cannot stand there; with the nearest
        key or value that can.
    """
    text = _read(path)
    try:
        given = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise SheetError(f"this is not TOML: {error}", path=path) from error
    found = given.get("schema")
    if found != SCHEMA:
        what = "the schema is missing" if found is None else f"the schema is {found!r}"
        raise SheetError(what, path=path, key="schema", advice=f'write schema = "{SCHEMA}"')
    try:
        document = SeriesDocument.model_validate(given)
    except ValidationError as error:
        raise _explain(error, path, text) from error
    return Series(document=document, base=path.absolute().parent)


def _read(path: Path) -> str:
    return text_of(
        path,
        "series",
        most_bytes=_LARGEST_BYTES,
        absent="name a series.toml, or a folder of trials",
        folder="name the series.toml in it",
    )


def _explain(error: ValidationError, path: Path, text: str) -> SheetError:
    """The first defect as a sentence; an unknown key comes first, for it explains a missing one."""
    problems = sorted(error.errors(), key=lambda problem: problem["type"] != "extra_forbidden")
    problem, place = problems[0], tuple(problems[0]["loc"])
    names = [str(part) for part in place if isinstance(part, str)]
    where: dict[str, Any] = {
        "path": path,
        "key": ".".join(names) or None,
        "line": _line_of(text, names),
    }
    if problem["type"] == "extra_forbidden":
        known = _keys_of(names[:-1])
        near = difflib.get_close_matches(names[-1], known, n=1, cutoff=0.5)
        hint = f"did you mean {near[0]!r}" if near else ""
        return SheetError("no such key", allowed=() if near else tuple(known), advice=hint, **where)
    if problem["type"] == "missing":
        return SheetError("this key is missing", **where)
    given, limits = problem["input"], problem.get("ctx", {})
    if problem["type"] == "literal_error":
        allowed = tuple(re.findall(r"'([^']+)'", str(limits.get("expected", ""))))
        near = difflib.get_close_matches(str(given), allowed, n=1, cutoff=0.6)
        hint = f"did you mean {near[0]!r}" if near else ""
        return SheetError(f"{given!r} is not allowed here", allowed=allowed, advice=hint, **where)
    if "error" in limits:
        return SheetError(str(limits["error"]).rstrip("."), **where)
    return SheetError(_in_words(str(problem["type"]), given, limits), **where)


_WANTED = {
    "string": "text in quotes",
    "int": "a whole number",
    "bool": "true or false",
    "list": "a list in square brackets",
    "model": "a table",
}


def _in_words(kind: str, given: Any, limits: Any) -> str:
    if kind == "too_short":
        return "this list is empty"
    for name, words in (("ge", "less than"), ("gt", "not more than"), ("le", "more than")):
        if name in limits:
            return f"{given} is {words} {limits[name]}"
    wanted = next((words for start, words in _WANTED.items() if kind.startswith(start)), None)
    return f"{given!r} is not {wanted}" if wanted else f"{given!r} cannot stand here"


def _keys_of(tables: list[str]) -> list[str]:
    inner: dict[str, type[BaseModel]] = {"matrix": Matrix, "limits": Limits}
    model = inner.get(tables[0], SeriesDocument) if tables else SeriesDocument
    return [field.alias or name for name, field in model.model_fields.items()]


def _line_of(text: str, names: list[str]) -> int | None:
    """The line on which a key stands, as far as the plain shape of TOML tells it."""
    inside = ""
    table, key = (names[0], names[1]) if len(names) > 1 else ("", names[0] if names else "")
    for number, line in enumerate(text.splitlines(), start=1):
        bare = line.strip()
        if bare.startswith("["):
            inside = bare.strip("[] ").partition("]")[0].strip()
            if not table and inside == key:
                return number
        elif inside == table and bare.partition("=")[0].strip() == key:
            return number
    return None


def timeout_s(limits: Limits, seconds: float) -> float:
    """How long a job may take that is estimated at so many seconds."""
    return limits.timeout if limits.timeout is not None else max(1800.0, 10 * math.ceil(seconds))
