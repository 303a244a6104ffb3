"""Which of several clips of one recording a shot was cut from: the one whose labels are read on it.

Clips of one run in other units, or with other instruments, differ in their plates alone, and where
a shot was cut from is found on pictures too small to show that.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.comparing import Frames
from overlay.audit.edit.framing import resized
from overlay.audit.reading import Placement
from overlay.workflow.auditing.sources import CLIP
from sync.errors import TrialReelError
from sync.media import frame_times

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from overlay.audit.edit import Shot
    from overlay.workflow.auditing.job import Job
    from overlay.workflow.auditing.rendered import Rendered
    from overlay.workflow.auditing.sources import Sources
    from sync.media import Footage

SLACK_FRAMES = 1
"""A shot is placed to within so many frames of the render."""

LOOKS = 5
"""On so many frames of a shot its labels are read."""

SAME_SHAPE = 0.01


def told_apart(
    shot: Shot, film: Footage, sources: Sources, job: Job, opened: Callable[[str], Rendered]
) -> Shot:
    """A shot with the clip as its source whose labels are read best, of those that show the same
    picture; as it is where they are read equally well.

    Parameters
    ----------
    opened
        A clip of the sources by its name, as its ledger has it.
    """
    name = shot.source or ""
    others = [one for one in shot.also if one.startswith(CLIP)]
    if not name.startswith(CLIP) or not others:
        return shot
    shots = [shot, *(_as_of(other, shot, sources, opened) for other in others)]
    best = max(
        (one for one in shots if one is not None),
        key=lambda one: _read(one, film, opened(one.source or ""), job),
    )
    also = [one for one in (name, *shot.also) if one != best.source]
    return replace(best, also=tuple(also))


def frames_of(shot: Shot, film: Footage, render: Rendered) -> Frames:
    """The frames of a shot that was placed on a render."""
    assert shot.source_frames is not None  # of a placed one
    numbers = np.array(list(shot.frames), np.int64)
    return Frames(
        number=numbers,
        t_film_s=frame_times(film).seconds()[numbers],
        ledger_frame=shot.source_frames,
        render_t_utc_s=render.t_utc_s,
        slack=max(SLACK_FRAMES, int(np.ceil(shot.doubt_frames or 0.0))),
    )


def place_of(shot: Shot) -> Placement:
    """Where a render's picture lies on that of a shot of it."""
    assert shot.framing is not None  # of a placed one
    return Placement(
        scale_x=shot.framing.scale_x,
        scale_y=shot.framing.scale_y,
        left_px=shot.framing.left_px,
        top_px=shot.framing.top_px,
    )


def _as_of(
    name: str, shot: Shot, sources: Sources, opened: Callable[[str], Rendered]
) -> Shot | None:
    """The same shot as one of another clip; None where that does not have all of it, or its ledger
    is of no use."""
    assert shot.source_frames is not None
    assert shot.framing is not None
    own = opened(shot.source or "")
    try:
        other = opened(name)
    except TrialReelError:
        return None
    if own.facts.get("recording") != other.facts.get("recording"):
        return None
    size, its = (sources.named(one).size_px for one in (shot.source or "", name))
    if abs(size[0] * its[1] / (size[1] * its[0]) - 1) > SAME_SHAPE:
        return None
    frames = _nearest(other.t_utc_s, own.t_utc_s[shot.source_frames])
    if frames is None:
        return None
    return replace(
        shot, source=name, source_frames=frames, framing=resized(shot.framing, size, its)
    )


def _nearest(t_utc_s: NDArray[np.float64], wanted: NDArray[np.float64]) -> NDArray[np.int64] | None:
    """The frames that show some instants, each to half a frame; None where one has none."""
    if t_utc_s.size < 2:
        return None
    after = np.clip(np.searchsorted(t_utc_s, wanted), 1, t_utc_s.size - 1)
    nearer = wanted - t_utc_s[after - 1] < t_utc_s[after] - wanted
    frames = np.where(nearer, after - 1, after).astype(np.int64)
    half_s = float(np.median(np.diff(t_utc_s))) / 2
    return frames if bool(np.all(np.abs(t_utc_s[frames] - wanted) <= half_s)) else None


def _read(shot: Shot, film: Footage, render: Rendered, job: Job) -> float:
    """Which share of a clip's labels is read on a shot, in the median of a few frames."""
    frames, place = frames_of(shot, film, render), place_of(shot)
    rows = np.unique(np.linspace(0, frames.number.size - 1, LOOKS).round().astype(int))
    shares = [
        job.labels_read(film, render.layout, _one(frames, row), place)[0] for row in rows.tolist()
    ]
    return round(float(np.median(shares)), 2)


def _one(frames: Frames, row: int) -> Frames:
    part = slice(row, row + 1)
    return replace(
        frames,
        number=frames.number[part],
        t_film_s=frames.t_film_s[part],
        ledger_frame=frames.ledger_frame[part],
    )
