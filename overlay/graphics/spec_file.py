"""A TOML file that says what to draw: read, checked key by key, and blamed by line.

Faceplates and themes share this: a schema, known keys, values of known kinds. Whatever is
wrong becomes one `FaceplateError` that names the file, the line and the key.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from importlib import resources
from itertools import pairwise
from pathlib import Path
from typing import Any

from overlay.errors import FaceplateError

_AT_LINE = re.compile(r"\(at line (\d+), column \d+\)")
_FEW = 12


def find(name_or_path: str | Path, folder: str, what: str) -> Path:
    """The file behind a name that comes with the package, or behind a path.

    Raises
    ------
    FaceplateError
        Where there is no such file.
    """
    text = str(name_or_path)
    if isinstance(name_or_path, Path) or text.endswith(".toml") or "/" in text or "\\" in text:
        path = Path(name_or_path)
        if not path.is_file():
            raise FaceplateError(
                f"there is no {what} file here", path=path, advice="check the path"
            )
        return path
    place = Path(str(resources.files("overlay.graphics"))) / folder
    known = sorted(file.stem for file in place.glob("*.toml"))
    if text not in known:
        raise FaceplateError(
            f"{text!r} is not a {what} that comes with trialreel",
            allowed=tuple(known),
            advice=f"{nearest(text, known)}or give the path of your own .toml file",
        )
    return place / f"{text}.toml"


def nearest(text: str, known: Iterable[str]) -> str:
    """A hint at the nearest known word, to stand before further advice; or nothing."""
    close = difflib.get_close_matches(text, list(known), n=1, cutoff=0.5)
    return f"did you mean {close[0]!r}, " if close else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """What may stand behind a key.

    Parameters
    ----------
    kind
        `str`, `float`, `bool`, `list` (numbers) or `tuple` (a list of the allowed words).
    default
        What holds where the key is left out.
    allowed
        The words that may be written, where there are few.
    low, high
        Bounds of a number.
    count
        How many numbers a list may have, from and to.
    rising
        Whether each number of a list must be greater than the one before.
    text
        What the key is for.
    """

    kind: type
    default: Any = None
    needed: bool = False
    allowed: tuple[str, ...] = ()
    low: float = -1e9
    high: float = 1e9
    count: tuple[int, int] = (2, 2)
    rising: bool = False
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecFile:
    """A parsed file and its text, to find lines in."""

    path: Path
    data: Mapping[str, Any]
    text: str = field(repr=False)

    @classmethod
    def read(cls, path: Path, schema: str) -> SpecFile:
        """A file of a given schema.

        Raises
        ------
        FaceplateError
            Where it cannot be read, is no TOML, or is of another schema.
        """
        try:
            text = path.read_text(encoding="utf-8")
            data = tomllib.loads(text)
        except tomllib.TOMLDecodeError as cause:
            place = _AT_LINE.search(str(cause))
            raise FaceplateError(
                f"this is no valid TOML: {_AT_LINE.sub('', str(cause)).strip().lower()}",
                path=path,
                line=int(place[1]) if place else None,
            ) from cause
        except UnicodeDecodeError as cause:
            raise FaceplateError("this file is not text in UTF-8", path=path) from cause
        except OSError as cause:
            raise FaceplateError(
                f"this file cannot be read ({cause.strerror})", path=path
            ) from cause
        made = cls(path=path, data=data, text=text)
        if data.get("schema") != schema:
            found = data.get("schema")
            what = "the schema is missing" if found is None else f"the schema is {found!r}"
            raise made.error(what, "schema", advice=f'write schema = "{schema}"')
        return made

    def error(
        self,
        what: str,
        key: str | None = None,
        *,
        table: str | None = None,
        index: int = 0,
        allowed: tuple[str, ...] = (),
        advice: str = "",
    ) -> FaceplateError:
        """An error about a key of the file, or of the table that it stands in."""
        return FaceplateError(
            what,
            path=self.path,
            line=self.line_of(key, table, index),
            key=key,
            allowed=allowed,
            advice=advice,
        )

    def line_of(self, key: str | None, table: str | None = None, index: int = 0) -> int | None:
        """The line of a key, or of the head of its table where the key is not written."""
        here: str | None = None
        seen = -1
        head: int | None = None
        for number, line in enumerate(self.text.splitlines(), start=1):
            bare = line.strip()
            if bare.startswith("["):
                here = bare.split("]")[0].strip("[] \t")
                seen += here == table
                if here == table and seen == index:
                    head = number
                continue
            inside = here == table and (table is None or seen == index)
            if inside and key and re.match(rf"[\"']?{re.escape(key)}[\"']?\s*=", bare):
                return number
        return head

    def values(
        self,
        found: Mapping[str, Any],
        keys: Mapping[str, Key],
        *,
        table: str | None = None,
        index: int = 0,
    ) -> dict[str, Any]:
        """The values of one table, each checked, with defaults for what is left out.

        Raises
        ------
        FaceplateError
            For an unknown key, a missing one, or a value that its key cannot have.
        """
        for key in found:
            if key not in keys:
                raise self.error(
                    "this key is not known here",
                    key,
                    table=table,
                    index=index,
                    allowed=tuple(keys) if len(keys) <= _FEW else (),
                    advice=nearest(key, keys).removesuffix(", "),
                )
        values: dict[str, Any] = {}
        for name, spec in keys.items():
            if name not in found:
                if spec.needed:
                    raise self.error(
                        "this key is missing",
                        name,
                        table=table,
                        index=index,
                        advice=f"it says {spec.text}" if spec.text else "",
                    )
                values[name] = spec.default
                continue
            wrong = _wrong(found[name], spec)
            if wrong:
                raise self.error(
                    wrong,
                    name,
                    table=table,
                    index=index,
                    allowed=spec.allowed,
                    advice=nearest(str(found[name]), spec.allowed).removesuffix(", "),
                )
            values[name] = _clean(found[name], spec)
        return values


def _clean(value: Any, key: Key) -> Any:
    if key.kind is float:
        return float(value)
    if key.kind is list:
        return tuple(float(item) for item in value)
    if key.kind is tuple:
        return tuple(value)
    return value


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _wrong(value: Any, key: Key) -> str:
    """What is wrong with a value, or nothing."""
    bounds = f"between {key.low:g} and {key.high:g}"
    if key.kind is float:
        fits = _is_number(value) and key.low <= value <= key.high
        what = f"is not a number {bounds}"
    elif key.kind is list:
        return _wrong_list(value, key, bounds)
    elif key.kind is tuple:
        fits = isinstance(value, list) and bool(value)
        fits = fits and all(item in key.allowed for item in value)
        what = "is not a list of words that can stand here"
    elif key.kind is bool:
        fits, what = isinstance(value, bool), "is not true or false"
    elif not isinstance(value, str):
        fits, what = False, "is not a text in quotes"
    else:
        fits, what = not key.allowed or value in key.allowed, "cannot stand here"
    return "" if fits else f"{value!r} {what}"


def _wrong_list(value: Any, key: Key, bounds: str) -> str:
    """What is wrong with a list of numbers, or nothing."""
    fewest, most = key.count
    many = {(2, 2): "two"}.get(key.count, f"{fewest} to {most}")
    if not (isinstance(value, list) and all(map(_is_number, value))):
        return f"{value!r} is not a list of {many} numbers {bounds}"
    inside = all(key.low <= item <= key.high for item in value)
    if not (inside and fewest <= len(value) <= most):
        return f"{value!r} is not a list of {many} numbers {bounds}"
    if key.rising and any(after <= before for before, after in pairwise(value)):
        return f"{value!r} does not rise from its first number to its last"
    return ""
