"""Pictures of an audited film for its report: crops around what disagrees, and a contact sheet."""

from __future__ import annotations

import base64
import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Rgb = NDArray[np.uint8]

Box = tuple[int, int, int, int]
"""Left, top, width and height."""

Which = tuple[int, int]
"""The number of a piece among the verdict's, and of a disagreement in it, from nought."""

AROUND = 1.2
"""How much of the picture is kept about a box, in its own heights on each side."""

LEAST_PX = (240, 90)
MOST_PX = 900
CLEAR_PX = 500
THUMB_PX = 320
FRAME_PX = 2
MARK = (232, 79, 168)
"""The colour of the frame about what disagrees: the chart's magenta, as on dark plates."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One picture of the contact sheet: its frame, when it stands in the film, and its file."""

    frame: int
    t_film_s: float
    data: bytes = field(repr=False)

    @property
    def address(self) -> str:
        """As a page carries it."""
        return address(self.data)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    """All pictures of a report: the crop of each disagreement that is shown whole, as far as there
    is one, and the contact sheet in the order of the film."""

    crops: Mapping[Which, bytes] = field(default_factory=dict, repr=False)
    sheet: tuple[Sample, ...] = ()


NO_PICTURES = Pictures()


def address(data: bytes) -> str:
    """A picture file as a `data:` address."""
    kind = "png" if data.startswith(b"\x89PNG") else "jpeg"
    return f"data:image/{kind};base64,{base64.b64encode(data).decode('ascii')}"


def crop_png(picture: Rgb, box_px: Box) -> bytes:
    """What stands about a box, with a thin frame round the box itself, as PNG.

    Parameters
    ----------
    picture : [shape=(height, width, 3)]
        The upright picture in R'G'B'.
    box_px
        On that picture; what lies outside of it is left out.
    """
    from PIL import Image, ImageDraw

    left, top, right, bottom = _about(box_px, picture.shape[1], picture.shape[0])
    image = Image.fromarray(picture[top:bottom, left:right])
    # Small pictures are shown in whole larger pixels, so that nothing is made up between them.
    scale = min(1.0, MOST_PX / image.width) if image.width > CLEAR_PX else CLEAR_PX // image.width
    size = max(1, round(image.width * scale)), max(1, round(image.height * scale))
    how = Image.Resampling.NEAREST if scale > 1 else Image.Resampling.LANCZOS
    image = image.resize(size, how)
    x, y, width, height = box_px
    corners = [x - left - 3, y - top - 3, x + width - left + 2, y + height - top + 2]
    frame = [round(edge * scale) for edge in corners]
    ImageDraw.Draw(image).rectangle(frame, outline=MARK, width=FRAME_PX)
    return _file(image, "PNG")


def thumb_jpeg(picture: Rgb) -> bytes:
    """A whole picture, small, as JPEG."""
    from PIL import Image

    image = Image.fromarray(picture)
    image.thumbnail((THUMB_PX, THUMB_PX))
    return _file(image, "JPEG")


def _about(box_px: Box, width_px: int, height_px: int) -> Box:
    """Left, top, right and bottom of the crop, on the picture and never empty."""
    x, y, width, height = box_px
    more_x = max(AROUND * height, (LEAST_PX[0] - width) / 2)
    more_y = max(AROUND * height, (LEAST_PX[1] - height) / 2)
    left = min(max(0, int(x - more_x)), width_px - 1)
    top = min(max(0, int(y - more_y)), height_px - 1)
    right = min(width_px, max(left + 1, int(x + width + more_x)))
    bottom = min(height_px, max(top + 1, int(y + height + more_y)))
    return left, top, right, bottom


def _file(image: object, kind: str) -> bytes:
    from PIL import Image

    assert isinstance(image, Image.Image)
    out = io.BytesIO()
    image.save(out, kind, **({"quality": 82} if kind == "JPEG" else {"optimize": True}))
    return out.getvalue()
