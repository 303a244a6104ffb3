"""How a decoded picture is turned to stand upright, and its planes as arrays.

The layout counts on the upright picture; what a camera coded may lie on its side. A matrix maps a
coded place to a shown one, x' = a x + c y, y' = b x + d y (ISO/IEC 14496-12, 6.2.2).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overlay.errors import RenderError
from sync.media import Decoded, Footage
from sync.media.planes import planes_of

Planes = tuple[NDArray[np.unsignedinteger[Any]], ...]

LUMA_FIRST = ("yuv", "gray")
"""Planar formats begin so whose first plane is luma; big-endian ones end in `be`."""


def upright(footage: Footage) -> Callable[[Decoded], Planes]:
    """What gives the planes of a decoded picture as they are shown, as views where it can.

    Raises
    ------
    RenderError
        Where the picture is turned by an angle other than quarters.
    """
    turned, mirror_x, mirror_y = _turn(footage)

    def planes(decoded: Decoded) -> Planes:
        found = planes_of(_planar(decoded))[:3]
        return tuple(
            (plane.T if turned else plane)[:: -1 if mirror_y else 1, :: -1 if mirror_x else 1]
            for plane in found
        )

    return planes


def _turn(footage: Footage) -> tuple[bool, bool, bool]:
    if footage.display_matrix is None:
        return False, False, False
    a, b, _, c, d = footage.display_matrix[:5]
    if b == c == 0 and a and d:
        return False, a < 0, d < 0
    if a == d == 0 and b and c:
        return True, c < 0, b < 0
    raise RenderError(
        f"the picture is turned by {footage.rotation_deg}° for showing, and only quarter turns"
        " and mirrors can be read",
        path=footage.path,
        advice="turn the picture upright in an editing program first",
    )


def bits_of(decoded: Decoded) -> int:
    """Bits of a sample, as its planes will have them."""
    return int(_planar(decoded).format.components[0].bits)


def _planar(decoded: Decoded) -> Any:
    """A picture whose planes are luma and two colour differences."""
    picture = decoded.picture
    name = picture.format.name
    if name.startswith(LUMA_FIRST) and picture.format.is_planar and not name.endswith("be"):
        return picture
    deep = picture.format.components[0].bits > 8
    return picture.reformat(format="yuv444p10le" if deep else "yuv444p")
