"""Reading a whole clip, or pictures that somebody else decoded.

Frames stream by; what is looked at is cut out of each and stacked, and read many frames at a time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from pathlib import Path

from overlay.audit.reading.fonts import Fonts
from overlay.audit.reading.frames import Seen, seen_frames
from overlay.audit.reading.placing import Placement
from overlay.audit.reading.readers import READERS
from overlay.audit.reading.result import Readings
from overlay.audit.reading.stacks import Stacks
from overlay.audit.reading.turning import Planes
from overlay.errors import RenderError
from overlay.ledger import Layout
from sync.media import Footage, probe

Clock = Callable[[float], float]
"""From a second of the clip to UTC."""

Progress = Callable[[int, int], None]
"""Called with how many frames are done, and how many there are."""

AS_IT_IS = Placement()


def read_clip(
    path: Path | Footage,
    layout: Layout,
    *,
    every_s: float | None = None,
    frames: range | None = None,
    place: Placement = AS_IT_IS,
    reader: str = "glyphs",
    clock: Clock | None = None,
    folders: Sequence[Path] = (),
    progress: Progress | None = None,
) -> Readings:
    """Read what stands on the pictures of a clip.

    Parameters
    ----------
    every_s
        Read a frame every so many seconds; all of them without it.
    frames
        Read only these, counted from 0; all of them without it.
    place
        Where the layout lies on the picture.
    reader
        A key of `READERS`.
    clock
        From the clip's seconds to UTC: each thing is then looked for while it is to be seen.
        Without one everything is looked for on every frame.
    folders
        Where fonts may lie that do not come with trialreel.

    Raises
    ------
    RenderError
        Where there is no such reader, a font is not what it was, or no frame fits the layout.
    FootageError
        Where the clip cannot be decoded.
    """
    footage = path if isinstance(path, Footage) else probe(path)
    stacks = _stacks(layout, place, reader, clock, folders)
    for done, total, seen in seen_frames(footage, every_s, frames):
        stacks.add(seen)
        if progress is not None:
            progress(done, total)
    return stacks.finish()


def read_pictures(
    pictures: Iterable[tuple[int, Planes]],
    layout: Layout,
    *,
    time_base: Fraction,
    depth: int = 8,
    place: Placement = AS_IT_IS,
    reader: str = "glyphs",
    clock: Clock | None = None,
    folders: Sequence[Path] = (),
) -> Readings:
    """Read pictures that are there already, upright, each with its time stamp.

    Parameters
    ----------
    pictures
        Time stamp, and planes of Y, U and V, each.
    depth
        Bits of their codes.

    Raises
    ------
    RenderError
        As `read_clip`.
    """
    stacks = _stacks(layout, place, reader, clock, folders)
    for frame, (pts, planes) in enumerate(pictures):
        t_s = float(pts * time_base)
        stacks.add(Seen(frame=frame, pts=pts, t_s=t_s, planes=planes, depth=depth))
    return stacks.finish()


def _stacks(
    layout: Layout, place: Placement, reader: str, clock: Clock | None, folders: Sequence[Path]
) -> Stacks:
    if reader not in READERS:
        raise RenderError(
            f"there is no reader {reader!r}", allowed=tuple(READERS), advice="name one of these"
        )
    fonts = Fonts(layout.fonts, folders)
    return Stacks(layout, fonts, place, READERS[reader](), clock)
