"""How many pixels a clip has in a shape, for estimates."""

from __future__ import annotations

from typing import TYPE_CHECKING

from overlay.render.cropping import Shape, crop_of

if TYPE_CHECKING:
    from sync.media import Footage


def pixels_of(footage: Footage, shape: Shape | None) -> int:
    """Pixels of the part of a picture that a clip in a shape keeps.

    Raises
    ------
    WishError
        Where too little would be left.
    """
    crop = crop_of(footage, shape)
    if crop is None:
        return footage.width * footage.height
    return crop.width_px * crop.height_px
