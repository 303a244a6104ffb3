"""The planes of a picture as arrays that share its memory."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from av import VideoFrame

Plane = NDArray[np.uint8]


def planes_of(picture: VideoFrame) -> tuple[Plane, ...]:
    """Views of an 8-bit planar picture's planes, at the true width [shape=(rows, columns)].

    FFmpeg pads each row; what lies behind the true width is not part of the view. Writing to
    a view changes the picture, and where `make_writable` was not called before, it changes
    whatever else shares the picture's memory: the decoder's reference frames.
    """
    return tuple(
        np.frombuffer(memoryview(plane), np.uint8).reshape(plane.height, plane.line_size)[
            :, : plane.width
        ]
        for plane in picture.planes
    )
