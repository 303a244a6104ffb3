"""Where things lie: the sheet that a person means, and the files that stand beside it."""

from __future__ import annotations

from pathlib import Path

from overlay.errors import SheetError

SHEET_NAME = "trial.toml"


def find_sheet(given: Path) -> Path:
    """The sheet that a path means: the file itself, or the `trial.toml` of a folder.

    Raises
    ------
    SheetError
        Where there is none.
    """
    try:
        path = given / SHEET_NAME if given.is_dir() else given
        there = path.is_file()
    except OSError as error:
        raise SheetError(f"this cannot be looked for ({error.strerror})") from error
    if not there:
        raise SheetError(
            "there is no trial sheet here",
            path=path,
            advice="`trialreel new FOLDER` writes one for a folder of logs and footage",
        )
    return path


def ties_path(sheet_path: Path) -> Path:
    """The sidecar that holds the ties of a trial."""
    return sheet_path.with_name(f"{sheet_path.stem}.ties.json")


def results_path(sheet_path: Path) -> Path:
    """The file that holds the results of a trial."""
    return sheet_path.with_name(f"{sheet_path.stem}.results.json")


def checks_folder(sheet_path: Path) -> Path:
    """Where pictures go that a person looks at to see whether something is right."""
    return sheet_path.parent / "checks"
