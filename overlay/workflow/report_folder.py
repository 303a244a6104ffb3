"""The folder of a report, which is there whole or not at all (`own_folder`)."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from overlay.workflow.own_folder import OwnFolder

MANIFEST = "report.json"
REPORT_FOLDER = OwnFolder(noun="report", manifest=MANIFEST, schema="report/1")


def put_in_place(folder: Path, files: Mapping[str, str]) -> None:
    """Write a report's files, text by place below the folder, in the place of an earlier report.

    Raises
    ------
    OutputError
        Where the place cannot be written to, or holds what no report wrote.
    """
    REPORT_FOLDER.put(folder, files)
