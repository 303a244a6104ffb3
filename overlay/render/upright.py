"""How a coded picture is turned to stand upright, and views of its planes that do so.

A camera held on its side writes its pictures as the sensor has them, and a matrix that tells the
player how to turn them. Both are kept; what is drawn is drawn on upright views of the planes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overlay.errors import RenderError
from sync.media import Footage

Plane = NDArray[np.unsignedinteger[Any]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Upright:
    """From a coded picture to an upright one.

    Parameters
    ----------
    turned
        Whether rows become columns.
    mirrored_x, mirrored_y
        Whether what comes out is mirrored, left to right and top to bottom.
    """

    turned: bool = False
    mirrored_x: bool = False
    mirrored_y: bool = False

    def view(self, plane: Plane) -> Plane:
        """A plane as it stands upright, in the same memory."""
        out = plane.T if self.turned else plane
        return out[:: -1 if self.mirrored_y else 1, :: -1 if self.mirrored_x else 1]

    def pair(self, across: int, down: int) -> tuple[int, int]:
        """Two measures across and down the coded picture, as they are across and down the
        upright one."""
        return (down, across) if self.turned else (across, down)


def upright_of(footage: Footage) -> Upright:
    """How footage is turned.

    A matrix maps a coded place to a shown one (ISO/IEC 14496-12, 6.2.2)::

        x' = a x + c y + …      y' = b x + d y + …

    Raises
    ------
    RenderError
        Where the matrix turns by an angle other than quarters, or scales.
    """
    if footage.display_matrix is None:
        return Upright()
    a, b, _, c, d = footage.display_matrix[:5]
    straight, turned = (a, d), (b, c)
    if turned == (0, 0) and abs(a) == abs(d) != 0:
        return Upright(mirrored_x=a < 0, mirrored_y=d < 0)
    if straight == (0, 0) and abs(b) == abs(c) != 0:
        return Upright(turned=True, mirrored_x=c < 0, mirrored_y=b < 0)
    raise RenderError(
        f"the picture is turned by {footage.rotation_deg}° or stretched for showing, and only "
        "quarter turns and mirrors can be drawn on",
        path=footage.path,
        advice="turn the picture upright in an editing program first",
    )
