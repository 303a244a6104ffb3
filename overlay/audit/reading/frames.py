"""The frames of a clip that are read, as upright planes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from overlay.audit.reading.turning import Planes, bits_of, upright
from overlay.errors import RenderError
from sync.media import Decoded, Footage, FrameTimes, decoded_frames, frame_times
from sync.media.ffmpeg_log import caught
from sync.media.picking import picked_frames


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """One picture: its place in the clip, its time stamp, when it is shown, and its planes."""

    frame: int
    pts: int
    t_s: float
    planes: Planes
    depth: int


def seen_frames(
    footage: Footage, every_s: float | None, frames: range | None = None
) -> Iterator[tuple[int, int, Seen]]:
    """How many are done, how many there are, and the frame itself."""
    times = frame_times(footage)
    planes = upright(footage)
    wanted = wanted_frames(times, every_s, frames)
    with caught():
        for done, decoded in enumerate(_decoded(footage, times, wanted), 1):
            index = decoded.index
            yield done, len(wanted), Seen(
                frame=index, pts=int(times.pts[index]), t_s=times.time_s(index),
                planes=planes(decoded), depth=bits_of(decoded),
            )  # fmt: skip


def wanted_frames(
    times: FrameTimes, every_s: float | None, frames: range | None = None
) -> list[int]:
    """All frames, or one every so many seconds; of a stretch if one is given.

    Raises
    ------
    RenderError
        Where the distance is no time.
    """
    frames = range(len(times)) if frames is None else frames
    if every_s is None or not frames:
        return list(frames)
    if not (np.isfinite(every_s) and every_s > 0):
        raise RenderError(
            f"frames cannot be read every {every_s:g} s", advice="name a time above zero"
        )
    seconds = times.seconds()
    grid = np.arange(seconds[frames.start], seconds[frames[-1]] + 1e-9, every_s)
    nearest = {times.nearest(float(at)) for at in grid}
    return sorted(number for number in nearest if number in frames)


def _decoded(footage: Footage, times: FrameTimes, wanted: list[int]) -> Iterator[Decoded]:
    """All frames of a stretch, or single ones."""
    if wanted and len(wanted) == wanted[-1] + 1 - wanted[0]:
        return decoded_frames(footage, times, range(wanted[0], wanted[-1] + 1))
    return picked_frames(footage, times, wanted)
