"""The kinds of arrays that drawing passes around."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Picture = NDArray[np.float32]
"""Something worked out by the pixel: a cover, a slope, a colour that is still summed up."""

Pixels = NDArray[np.uint8]
"""Something to be seen, in BGR or as a mask."""


def picture(values: NDArray[Any]) -> Picture:
    """Values as a picture; no copy where they are one."""
    return np.asarray(values, dtype=np.float32)


def pixels(values: NDArray[Any]) -> Pixels:
    """Values as pixels; no copy where they are some."""
    return np.asarray(values, dtype=np.uint8)
