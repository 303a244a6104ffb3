"""Which series a person means: a `series.toml`, a folder of trial sheets, sheets, or patterns."""

from __future__ import annotations

import glob
import os
import tomllib
from pathlib import Path

from overlay.errors import SheetError
from overlay.series.document import FILE_NAME, SCHEMA, Series, SeriesDocument, load_series
from overlay.series.fetching import fetch, is_address
from overlay.sheet.fields import safe_name
from overlay.workflow.locate import SHEET_NAME

ENOUGH_FILES = 10_000
"""A pattern that finds more was not meant."""


def series_of(words: list[str]) -> Series:
    """The series that the words of a command mean.

    Raises
    ------
    SheetError
        Where there is none.
    """
    first = Path(words[0])
    if len(words) == 1 and first.is_dir():
        if (first / FILE_NAME).is_file():
            return load_series(first / FILE_NAME)
        return _bare(first.absolute(), [SHEET_NAME, f"*/{SHEET_NAME}"])
    if len(words) == 1 and first.suffix == ".toml" and _is_series(first):
        return load_series(first)
    if any(is_address(word) for word in words):
        return _bare(Path.cwd(), words)
    for word in words:
        if not glob.has_magic(word) and not Path(word).exists():
            raise SheetError(
                "there is nothing here",
                path=word,
                advice="name a series.toml, a folder of trials, sheets, a pattern or an address",
            )
    places = [os.path.abspath(word) for word in words]  # noqa: PTH100 - patterns, not paths
    roots = [_root_of(place) for place in places]
    return _bare(Path(os.path.commonpath(roots)), places)


def _is_series(path: Path) -> bool:
    """Whether a file is meant as a series, whatever else is wrong with it."""
    if path.name == FILE_NAME:
        return True
    if not path.is_file():
        return False
    try:
        schema = tomllib.loads(path.read_text(encoding="utf-8")).get("schema")
    except (OSError, ValueError, RecursionError):
        return path.name != SHEET_NAME
    return not str(schema).startswith("trial/")


def _root_of(place: str) -> str:
    """The folder that a path or pattern starts from, before its first wild card."""
    path = Path(place)
    while glob.has_magic(str(path)):
        path = path.parent
    return str(path if path.is_dir() else path.parent)


def _bare(base: Path, trials: list[str]) -> Series:
    given = {"schema": SCHEMA, "name": base.name or "series", "trials": trials}
    return Series(document=SeriesDocument.model_validate(given), base=base)


def sheets_of(series: Series) -> dict[Path, SheetError | None]:
    """All trial sheets of a series, each once, in the order that they are named.

    A sheet that is named without a pattern need not be there: it becomes a job that failed. Trials
    at an address are fetched into the folder of the series; with the sheet of one that cannot be
    stands why.

    Raises
    ------
    SheetError
        Where a pattern finds nothing, or where there is no sheet at all.
    OutputError
        Where the folder of the series does not take what is fetched.
    """
    found: dict[Path, SheetError | None] = {}
    bare = series.document.trials == [SHEET_NAME, f"*/{SHEET_NAME}"]
    for pattern in series.document.trials:
        if is_address(pattern):
            matched = fetch(pattern, series.folder)
        else:
            matched = dict.fromkeys(_matches(series.base, pattern))
        if not matched and not bare:
            raise SheetError(
                f"{pattern!r} finds no trial sheet",
                path=series.base,
                key="trials",
                advice="name sheets, their folders, or a pattern such as '*/trial.toml'",
            )
        found |= matched
    if not found:
        raise SheetError(
            "there is no trial sheet in this folder, nor in those just below it",
            path=series.base,
            advice="`trialreel new FOLDER` writes one for a folder of logs and footage",
        )
    return found


def _matches(base: Path, pattern: str) -> list[Path]:
    place = str(base / pattern)
    if not glob.has_magic(place) or Path(place).exists():
        path = Path(place)
        return [path / SHEET_NAME if path.is_dir() else path] if _meant(path, base) else []
    names = sorted(glob.glob(place, recursive=True))[:ENOUGH_FILES]  # noqa: PTH207 - may be absolute
    paths = [Path(name) for name in names]
    sheets = [path / SHEET_NAME if path.is_dir() else path for path in paths]
    return [one for one in sheets if _may_be_sheet(one)]


def _may_be_sheet(path: Path) -> bool:
    """Whether what a pattern found is meant: no series, nor anything that one made."""
    made = any(folder.suffix == ".series" for folder in path.parents)
    return path.is_file() and path.suffix == ".toml" and path.name != FILE_NAME and not made


def _meant(path: Path, base: Path) -> bool:
    """A folder's own sheet, which the bare folder asks for, may be missing."""
    return path != base / SHEET_NAME or path.is_file()


def trial_name(sheet: Path) -> str:
    """What a trial is called in names of files: by its folder, or by a sheet's own name."""
    own = sheet.parent.name if sheet.name == SHEET_NAME else sheet.stem
    try:
        return safe_name(own)[:60]
    except ValueError:
        return "trial"
