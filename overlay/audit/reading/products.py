"""Products of many cells with many letters, on one thread."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]

ONE_THREAD = 250_000
"""Products of fewer multiplications are not shared out (OpenBLAS, measured: 0.3 ms of the
processor against 8)."""


def product(cells: Floats, letters: Floats) -> Floats:
    """Cells times letters [shape=(n, k) times (k, m), or (k,)], a few cells at a time.

    A library of linear algebra would share out larger products among threads, which wait for each
    other longer than they work, and take what the decoder needs.
    """
    if letters.ndim == 1:
        return np.asarray(np.einsum("ij,j->i", cells, letters))
    step = ONE_THREAD // max(1, letters.size)
    if min(step, len(cells)) < 2:  # a single row is shared out from far smaller sizes on
        return np.asarray(np.einsum("ij,jk->ik", cells, letters))
    out = np.empty((len(cells), letters.shape[1]), np.float32)
    whole = len(cells) - len(cells) % step
    for first in range(0, whole, step):
        np.matmul(cells[first : first + step], letters, out=out[first : first + step])
    if whole < len(cells):
        np.einsum("ij,jk->ik", cells[whole:], letters, out=out[whole:])
    return out
