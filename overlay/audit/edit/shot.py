"""What is said of one shot of a film."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

from overlay.audit.edit.framing import Framing

Kind = Literal["placed", "elsewhere", "alike", "short"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Resemblance:
    """A stretch of a source that a shot looks like, though it cannot be said when in it."""

    source: str
    from_s: float
    to_s: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shot:
    """One stretch of a film without a cut, and where it was cut from.

    Parameters
    ----------
    frames
        Of the film, counted from 0.
    start_s, stop_s
        When it is shown, on the film's clock.
    kind
        `placed`; `elsewhere`: not from any source; `alike`: several moments of a source look like
        it, and which one it is cannot be said; `short`: too few frames to say.
    why
        The same in words.
    source
        The source's name, of a placed shot.
    source_frames : [shape=(n,)]
        For each frame of the film, which of the source's it shows, of a blend the earlier.
    speed
        Seconds of the source in one of the film.
    doubt_frames
        By how many frames of the source all of them may be off, at the ends of the shot.
    framing
        From the source's upright pixels to the film's.
    also
        Sources that show the same picture at the same moment: a clip's recording where no
        instrument is to be seen.
    alike
        What a shot looks like that cannot be placed.
    """

    frames: range
    start_s: float
    stop_s: float
    kind: Kind
    why: str
    source: str | None = None
    source_frames: NDArray[np.int64] | None = None
    speed: float | None = None
    doubt_frames: float | None = None
    framing: Framing | None = None
    also: tuple[str, ...] = ()
    alike: tuple[Resemblance, ...] = ()
