"""The arrays that everything is made of: float64, and nobody writes to them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def read_only(values: NDArray[np.generic] | list[float] | Floats) -> Floats:
    """A float64 copy of an array that nobody can write to."""
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array
