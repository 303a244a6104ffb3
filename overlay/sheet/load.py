"""From `trial.toml` to the model."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from overlay.sheet.model import TrialSheet
from overlay.sheet.typed_document import Kind

_SHEET = Kind(
    model=TrialSheet,
    name="trial sheet",
    absent="`trialreel new FOLDER` writes one for a folder of logs and footage",
    folder="name the trial.toml in it",
)


def load_sheet(path: Path) -> TrialSheet:
    """Read a trial sheet.

    Raises
    ------
    SheetError
        Where the file is missing or unreadable, is no TOML, has a key that does not exist or
        a value that makes no sense. The first defect is told, with its key and, where one is
        near, the key or value that was probably meant.
    """
    return _SHEET.read(path)


def sheet_schema() -> dict[str, Any]:
    """The JSON Schema of a trial sheet, written from the model."""
    schema = TrialSheet.model_json_schema(by_alias=True)
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "trial sheet, trial/1"
    return schema
