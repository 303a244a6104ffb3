"""Transparent renders that an editor laid over footage: found by time, and by what can be read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.trial import life_s
from overlay.workflow.auditing.over_shot import Looked, Over, cut
from overlay.workflow.auditing.rendered import Rendered, open_render
from sync.errors import TrialReelError
from sync.media import frame_times

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from overlay.audit.edit import Shot
    from overlay.workflow.auditing.job import Job
    from overlay.workflow.auditing.piece import Watched
    from overlay.workflow.auditing.sources import Sources
    from sync.media import Footage

LEAST_FRAMES = 2
"""A render that is seen on fewer frames of a shot is passed over."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """A transparent render over a part of a shot, and what is read of it.

    `t_footage_s` and `t_utc_s` are an instant of the recording on which it lies, by its tie.
    """

    render: Rendered
    watched: Watched
    t_footage_s: float
    t_utc_s: float


def laid_over(
    film: Footage, shot: Shot, number: int, recording: str, sources: Sources, job: Job
) -> tuple[Laid, ...]:
    """The transparent renders that lie over a shot of footage, in their order.

    Each is looked for at the size of the film, where whoever lays it over a sequence has it, and as
    large as the footage is, where both were scaled together. Of those that show the same run
    the one whose labels are read best is taken.
    """
    times = _instants(shot, recording, sources, job)
    if times is None:
        return ()
    t_footage_s, t_utc_s = times
    looked = Looked(film=film, shot=shot, job=job, t_utc_s=t_utc_s)
    found = [over for render in _in_time(sources, job, t_utc_s) for over in looked.over(render)]
    taken: list[Over] = []
    for over in sorted(found, key=lambda one: one.fit, reverse=True):
        rest = _beside(over, taken)
        if len(rest.rows) >= LEAST_FRAMES:
            taken.append(rest)
    taken.sort(key=lambda one: one.rows.start)
    several = len(taken) > 1
    return tuple(
        Laid(
            render=over.render,
            watched=looked.read(over, f"shot {number}" + (f", part {part}" if several else "")),
            t_footage_s=float(t_footage_s[over.rows[len(over.rows) // 2]]),
            t_utc_s=float(t_utc_s[over.rows[len(over.rows) // 2]]),
        )
        for part, over in enumerate(taken, 1)
    )


def _instants(
    shot: Shot, recording: str, sources: Sources, job: Job
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """When each frame of a shot stands in its recording, and its UTC by the recording's tie."""
    entry = next((one for one in job.material.sheet.recordings if one.name == recording), None)
    footage = job.material.footage.get(recording)
    tie = job.ties.by_clock.get(f"footage:{recording}")
    if entry is None or footage is None or tie is None or shot.source_frames is None:
        return None
    if not sources.alone:
        return None
    t_footage_s = frame_times(footage).seconds()[shot.source_frames]
    t_utc_s = np.array([tie.map.carry(life_s(entry, t)) for t in t_footage_s.tolist()])
    return t_footage_s, t_utc_s


def _in_time(sources: Sources, job: Job, t_utc_s: NDArray[np.float64]) -> Iterator[Rendered]:
    """The renders that show some of these instants."""
    for render, ledger_path in sources.alone:
        stop_utc_s = render.start_utc_s + float(render.frames / render.rate_hz)
        if render.start_utc_s <= t_utc_s[-1] and stop_utc_s > t_utc_s[0]:
            try:
                yield open_render(ledger_path, job.material.sheet_path)
            except TrialReelError:
                continue  # it was told among what is passed over, when covers were looked for


def _beside(over: Over, taken: list[Over]) -> Over:
    """What of a render lies beside those that were taken: the longest stretch."""
    free = [row for row in over.rows if not any(row in one.rows for one in taken)]
    if len(free) == len(over.rows):
        return over
    parts: list[range] = []
    for row in free:
        if parts and parts[-1].stop == row:
            parts[-1] = range(parts[-1].start, row + 1)
        else:
            parts.append(range(row, row + 1))
    return cut(over, max(parts, key=len, default=range(over.rows.start, over.rows.start)))
