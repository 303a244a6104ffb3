"""The planes of a picture as arrays that share its memory."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from av import VideoFrame

Plane = NDArray[np.unsignedinteger[Any]]


def planes_of(picture: VideoFrame) -> tuple[Plane, ...]:
    """Views of a planar picture's planes, at the true width [shape=(rows, columns)], of uint8, or
    uint16 where samples have more than 8 bits.

    FFmpeg pads each row; what lies behind the true width is not part of the view. Writing to
    a view changes the picture, and where `make_writable` was not called before, it changes
    whatever else shares the picture's memory: the decoder's reference frames.
    """
    deep = picture.format.components[0].bits > 8
    codes: np.dtype[np.unsignedinteger[Any]] = np.dtype(np.uint16 if deep else np.uint8)
    return tuple(
        np.frombuffer(memoryview(plane), codes).reshape(
            plane.height, plane.line_size // codes.itemsize
        )[:, : plane.width]
        for plane in picture.planes
    )
