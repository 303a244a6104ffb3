"""The peaks of a row of values, and how far each stands out.

Peaks and prominences are those of SciPy's `find_peaks`, to the last bit, as a test holds; but to
import its `scipy.signal` takes over a second, in every command that computes results.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats

if TYPE_CHECKING:
    from numpy.typing import NDArray


def peaks_of(values: Floats) -> tuple[NDArray[np.intp], Floats]:
    """The places of all peaks, and their prominences.

    A peak is higher than its neighbours; of a level top the middle counts, the left one of two.
    Its prominence is its height above the higher of the two lowest values that lie between it and
    anything higher, or the end of the row, on either side.

    Parameters
    ----------
    values : [shape=(n,)]
        Finite values.

    Returns
    -------
    places : [shape=(m,)]
        Indices, rising.
    prominences : [shape=(m,)]
    """
    changed = np.flatnonzero(np.diff(values) != 0)
    firsts = np.concatenate([[0], changed + 1])
    lasts = np.concatenate([changed, [values.size - 1]])
    steps = np.diff(values[firsts])
    tops = 1 + np.flatnonzero((steps[:-1] > 0) & (steps[1:] < 0))
    places = (firsts[tops] + lasts[tops]) // 2
    return places, np.array([_prominence(values, int(place)) for place in places])


def _prominence(values: Floats, place: int) -> float:
    higher = np.flatnonzero(values > values[place])
    cut = int(np.searchsorted(higher, place))
    start = int(higher[cut - 1]) + 1 if cut else 0
    stop = int(higher[cut]) if cut < higher.size else values.size
    left, right = np.min(values[start : place + 1]), np.min(values[place:stop])
    return float(values[place] - max(left, right))
