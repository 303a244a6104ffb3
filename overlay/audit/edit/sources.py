"""What a shot may have been cut from: a clip with its ledger, or a recording as it was shot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.edit.recording_prints import prints_by_decoding
from overlay.ledger import read_prints
from sync.errors import FootageError
from sync.media import Footage, frame_times, probe

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Source:
    """One film that shots may come from.

    Parameters
    ----------
    name
        What a placed shot says.
    size_px
        Width and height of the upright picture, its pixels square.
    times_s : [shape=(n,), s]
        When each frame is shown, on a clock of its own.
    cells : [shape=(n, 32), uint8]
        The print of each frame.
    film
        What can be decoded; None where only the ledger is at hand.
    clip
        Whether instruments were drawn on it.
    """

    name: str
    size_px: tuple[float, float]
    times_s: NDArray[np.float64]
    cells: NDArray[np.uint8]
    film: Footage | None
    clip: bool
    _step_s: list[float] = field(init=False, repr=False, default_factory=list)

    @property
    def step_s(self) -> float:
        """How long a frame usually is; it is asked for often, and worked out once."""
        if not self._step_s:
            steps = np.diff(self.times_s)
            self._step_s.append(float(np.median(steps)) if len(steps) else 1.0)
        return self._step_s[0]

    def stops_s(self) -> NDArray[np.float64]:
        """When each frame ends."""
        return np.append(self.times_s[1:], self.times_s[-1] + self.step_s)

    def frames_at(self, t_s: NDArray[np.float64]) -> NDArray[np.int64]:
        """Which frame is shown at instants; the first or last beyond the ends."""
        index = np.searchsorted(self.times_s, t_s + 1e-9, side="right") - 1
        return np.clip(index, 0, len(self.times_s) - 1).astype(np.int64)


def upright_size(film: Footage) -> tuple[float, float]:
    """Width and height of a film's picture as it is looked at."""
    wide, high = float(film.width * film.sample_aspect), float(film.height)
    return (high, wide) if film.rotation_deg % 180 == 90 else (wide, high)


def clip_source(
    name: str,
    clip: Path,
    ledger: Path,
    *,
    size_px: tuple[float, float] | None = None,
    progress: Callable[[float, float], None] | None = None,
) -> Source:
    """A rendered clip, by the prints in its ledger.

    Parameters
    ----------
    clip
        The clip; where it is not there any more, the ledger alone must do.
    size_px
        Of the upright picture, as the ledger's layout has it; needed where the clip is gone.
    progress
        Told how far decoding has come, where the ledger keeps no prints and the clip has to be
        decoded for them.

    Raises
    ------
    FootageError
        Where the clip is not the one of the ledger, or neither has prints.
    ValueError
        Where the ledger cannot be read.
    """
    prints = read_prints(ledger)
    if not clip.exists():
        if prints is None or size_px is None:
            raise FootageError(
                "is not there, and its ledger keeps no prints of its pictures",
                path=clip,
                advice="put the clip back, or render it anew",
            )
        times = prints.t_footage_s - prints.t_footage_s[0]
        return Source(
            name=name, size_px=size_px, times_s=times, cells=prints.cells, film=None, clip=True
        )
    film = probe(clip)
    times = frame_times(film).seconds()
    if prints is None:
        cells = prints_by_decoding(film, progress)
    elif len(prints) != len(times):
        raise FootageError(
            f"has {len(times)} frames and its ledger has {len(prints)}: it is not the clip"
            " that the ledger was written for",
            path=clip,
            advice="render it anew",
        )
    else:
        cells = prints.cells
    return Source(
        name=name, size_px=upright_size(film), times_s=times, cells=cells, film=film, clip=True
    )


def recording_source(
    name: str, footage: Footage, progress: Callable[[float, float], None] | None = None
) -> Source:
    """A recording, by prints that are made by decoding it once.

    Raises
    ------
    FootageError
        Where it cannot be decoded.
    """
    return Source(
        name=name,
        size_px=upright_size(footage),
        times_s=frame_times(footage).seconds(),
        cells=prints_by_decoding(footage, progress),
        film=footage,
        clip=False,
    )
