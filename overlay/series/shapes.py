"""How many pixels a clip has in a shape, for estimates."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sync.media import Footage

SHAPES = {"wide": 16 / 9, "upright": 9 / 16, "square": 1.0}


def pixels_of(footage: Footage, shape: str | None) -> int:
    """Pixels of the greatest part of the upright picture that has a shape."""
    width, height = footage.width, footage.height
    if round(footage.rotation_deg or 0) % 180:
        width, height = height, width
    if shape is None:
        return width * height
    ratio = SHAPES[shape]
    return int(min(width, height * ratio) * min(height, width / ratio))
