"""Where a clip goes, and whether it may."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from overlay.errors import OutputError, SheetError
from overlay.ledger import LEDGER_END
from overlay.sheet.model import Clip, output_name
from overlay.trial import Material
from sync.errors import TrialReelError


def faceplate_name(clip: Clip, folder: Path, suits: str) -> str | Path:
    """A built-in faceplate by its name, or a file beside the sheet by its ending; the one that
    suits the run where the sheet says nothing."""
    name = clip.faceplate or suits
    return folder / name if name.endswith(".toml") else name


def ledger_of(output: Path) -> Path:
    """The ledger that stands beside a clip."""
    return output.with_name(f"{output.stem}{LEDGER_END}")


def output_path(clip: Clip, material: Material) -> Path:
    """Where a clip goes.

    Raises
    ------
    SheetError
        Where the sheet sends it out of the trial's folder or over an input.
    OutputError
        Where something lies in its place that is no clip of this program.
    """
    folder = material.folder.resolve()
    try:
        named = folder / output_name(clip)
    except ValueError as error:
        raise SheetError(str(error), path=material.sheet_path, key="clips.name") from error
    output = named.resolve()
    inputs = [log.path for log in material.logs.values()]
    for film in material.footage.values():
        inputs += [*film.paths, *(film.proxy.paths if film.proxy else ())]
    inputs.append(material.sheet_path)
    for path in inputs:
        if path.resolve() in (output, ledger_of(output)):
            raise SheetError(
                f"the clip {clip.name!r} would overwrite an input",
                path=path,
                advice="give the clip another file",
            )
    if not output.is_relative_to(folder):
        raise SheetError(
            f"the clip {clip.name!r} would leave the trial's folder",
            path=output,
            advice=f"name a file below {folder}",
        )
    if output.is_file() and not ledger_of(output).is_file():
        raise OutputError(
            "there is a file already, and it is no clip of trialreel, which would have its "
            "ledger beside it",
            path=output,
            advice="move it away, or give the clip another file",
        )
    return output


@contextmanager
def told_of(part: Path, place: Path) -> Iterator[None]:
    """Let errors about a file in the making speak of the place that it was to go to."""
    try:
        yield
    except TrialReelError as error:
        if error.path is not None and error.path.parent == part.parent:
            error.path = place.with_name(error.path.name)
        error.what = error.what.replace(str(part), str(place))
        raise
