"""A small grey copy of every frame of the film that is judged, in a file of its own.

An hour of them is too much for memory, and to decode a film twice takes as long again.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.edit.sources import upright_size
from sync.media import Footage, frame_times, small_frames

if TYPE_CHECKING:
    from numpy.typing import NDArray

LONG_PX = 160


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FilmPictures:
    """When each frame is shown, and its small copy [shape=(n, height, width), uint8].

    `size_px` is the true size of the upright picture.
    """

    times_s: NDArray[np.float64]
    stops_s: NDArray[np.float64]
    small: NDArray[np.uint8]
    size_px: tuple[float, float]
    film: Footage


@contextmanager
def film_pictures(
    film: Footage, progress: Callable[[float, float], None] | None = None
) -> Iterator[FilmPictures]:
    """Decode a film once, for as long as its small copies are needed.

    Raises
    ------
    FootageError
        Where it cannot be decoded.
    """
    times = frame_times(film)
    seconds = times.seconds()
    shape = (0, 0)
    with tempfile.TemporaryFile(prefix="trialreel-") as spool:
        for number, frame in enumerate(small_frames(film, long_px=LONG_PX)):
            shape = frame.luma.shape
            spool.write(frame.luma.tobytes())
            if progress is not None and number % 50 == 0:
                progress(number, len(times))
        spool.flush()
        small = np.memmap(spool, np.uint8, "r", shape=(len(times), *shape))
        yield FilmPictures(
            times_s=seconds,
            stops_s=np.append(seconds[1:], times.span.stop_s),
            small=small,
            size_px=upright_size(film),
            film=film,
        )
        del small
