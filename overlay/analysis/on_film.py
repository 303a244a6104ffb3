"""Times that a person counted on film, from one frame to another, by the frames' own time stamps.

Results are worked out without footage; here alone they look at a recording, and only at the stamps
of one that the sheet has timed. Cameras write frames at an uneven pace, so a count of frames over
a rate would be no time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from overlay.analysis.means import Mean
from overlay.trial import footage_clock, life_s, read_footage, recording_entry
from sync.errors import TrialReelError

if TYPE_CHECKING:
    from overlay.sheet.timed import Timed
    from overlay.trial import Trial
    from sync.media import FrameTimes


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """A time on film: how it was had in words, when it began [UTC s, NaN without a tie], and how
    long it took, give or take a frame."""

    how: str
    start_s: float
    time: Mean


def counted(trial: Trial, entry: Timed) -> Counted | str:
    """The time between the two frames of an entry, or why there is none.

    Its deviation is the longest of the frames beside the two: ± 1 frame.
    """
    (first, last), name = entry.frames, entry.recording
    if name is None:
        return "it names no recording"
    try:
        times = _stamps(trial, name)
    except TrialReelError as error:
        return f"the frames of {name!r} cannot be looked at: {error.what}"
    if last >= len(times):
        return f"there is no frame {last} in {name!r}: the last of {len(times)} is {len(times) - 1}"
    recording = recording_entry(trial.sheet, name)
    begin, end = times.time_s(first), times.time_s(last)
    frame = max(_frame_s(times, first), _frame_s(times, last))
    start = math.nan
    if footage_clock(name) in trial.ties.by_clock:
        start = trial.footage_to_utc(name).carry(begin)
    return Counted(
        how=f"counted on film, {name}, frames {first} to {last}, ± 1 frame",
        start_s=start,
        time=Mean(value=life_s(recording, end - begin), sd=life_s(recording, frame)),
    )


def _stamps(trial: Trial, name: str) -> FrameTimes:
    """When each frame of a recording is shown."""
    from sync.media import frame_times

    material = trial.material
    footage = material.footage.get(name)
    if footage is None:
        if name in material.unreadable:
            raise material.unreadable[name]
        entry = recording_entry(trial.sheet, name)
        footage = read_footage(entry, material.folder, material.sheet_path)
    return frame_times(footage)


def _frame_s(times: FrameTimes, index: int) -> float:
    """The longer of the frames before and after a stamp: what happened between two frames is seen
    on the later."""
    around = range(max(index - 1, 0), min(index + 1, len(times)))
    return float(max(times.duration_pts(i) for i in around) * times.time_base)
