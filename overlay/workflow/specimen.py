"""`trialreel specimen`: one picture of every instrument and faceplate, with made-up data."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

from overlay.errors import OutputError
from overlay.workflow.files import write_whole

COLOURS = 128
"""The look has few colours; with so many a picture is a third as large and looks the same."""

TITLE = "trialreel specimen"


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecimenOutcome:
    """The picture that was written, and its size."""

    path: Path
    width_px: int
    height_px: int


def write_specimen(path: Path) -> SpecimenOutcome:
    """Draw the specimen and write it as a PNG.

    Raises
    ------
    OutputError
        Where the file's name does not end in `.png`, where another picture lies there, or where it
        cannot be written.
    """
    if path.suffix.lower() != ".png":
        raise OutputError(
            "a specimen is a PNG picture", path=path, advice="give it a name that ends in .png"
        )
    if path.exists() and not _ours(path):
        raise OutputError(
            "there is a file already, and it is no specimen of trialreel",
            path=path,
            advice="move it away, or give the specimen another name",
        )
    pixels = specimen_png()
    write_whole(path, pixels[0])
    return SpecimenOutcome(path=path, width_px=pixels[1], height_px=pixels[2])


def specimen_png() -> tuple[bytes, int, int]:
    """The specimen as a PNG file, and its width and height."""
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo

    from overlay.graphics.specimen import specimen

    image = Image.fromarray(specimen())
    few = image.quantize(COLOURS, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    file, about = io.BytesIO(), PngInfo()
    about.add_text("Title", TITLE)
    few.save(file, format="PNG", optimize=True, pnginfo=about)
    return file.getvalue(), image.width, image.height


def _ours(path: Path) -> bool:
    from PIL import Image

    try:
        with Image.open(path) as image:
            return bool(image.info.get("Title") == TITLE)
    except OSError:
        return False
