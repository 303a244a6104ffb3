"""`trialreel demo`: a simulated trial, made, tied, computed and rendered."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import get_args

from demo_media import demo_sheet, make_demo
from demo_media.programme import Part
from overlay.errors import OutputError
from overlay.trial import read_material
from overlay.workflow.align import AlignOutcome, align_and_draw
from overlay.workflow.locate import SHEET_NAME
from overlay.workflow.progress import Progress, nobody
from overlay.workflow.render import RenderOutcome, render_of
from overlay.workflow.results import ResultsOutcome, results_of

TRUTH_NAME = "truth.json"
"""Only the demo writes one, so that a folder which has it may be made anew."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DemoOutcome:
    """Everything that the demo made."""

    sheet_path: Path
    align: AlignOutcome
    results: ResultsOutcome
    render: RenderOutcome


def demo(folder: Path, *, progress: Progress = nobody) -> DemoOutcome:
    """Make the demo trial and take it down the whole road.

    Raises
    ------
    OutputError
        Where the folder holds something that the demo did not make.
    """
    if folder.is_file() or (
        folder.is_dir() and any(folder.iterdir()) and not (folder / TRUTH_NAME).is_file()
    ):
        raise OutputError(
            "this place is taken by something else", path=folder, advice="name an empty folder"
        )
    if (folder / SHEET_NAME).is_file() and not _pristine(folder / SHEET_NAME):
        raise OutputError(
            "this sheet is not as the demo wrote it, and would be written over",
            path=folder / SHEET_NAME,
            advice="name another folder, or go on with `trialreel render`",
        )
    try:
        made = make_demo(
            folder, part="day", progress=lambda stage, share: progress(stage, share, 1.0)
        )
    except OSError as error:
        raise OutputError(
            str(error.strerror or error).rstrip("."),
            path=folder,
            advice="free some space, or name an empty folder that you may write to",
        ) from error
    material = read_material(made.sheet)
    aligned = align_and_draw(material)
    computed = results_of(material)
    rendered = render_of(material, progress=progress)
    return DemoOutcome(sheet_path=made.sheet, align=aligned, results=computed, render=rendered)


def _pristine(sheet: Path) -> bool:
    """Whether a sheet is the one that this version of the demo writes."""
    written = sheet.read_bytes()
    return any(written == demo_sheet(part).encode() for part in get_args(Part))
