"""Pictures for the report: what stands where something disagrees, and a sheet of the whole film."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from overlay.report.audit_page import shown_whole
from overlay.report.audit_pictures import Pictures, Sample, crop_png, thumb_jpeg
from sync.media import frame_times, pictures

if TYPE_CHECKING:
    from overlay.audit.verdict import Verdict
    from sync.media import Footage

SAMPLES = 12
"""Pictures on the contact sheet."""

SAMPLE_PX = 180
"""Height of one of them."""


def pictures_of(film: Footage, verdict: Verdict) -> Pictures:
    """The contact sheet of a film, and the crops of what its page shows whole."""
    times = frame_times(film)
    count = len(times)
    even = np.unique(np.linspace(0, count - 1, min(SAMPLES, count)).round().astype(int)).tolist()
    sheet = tuple(
        Sample(frame=frame, t_film_s=times.time_s(frame), data=thumb_jpeg(picture))
        for frame, picture in zip(even, pictures(film, even, SAMPLE_PX), strict=True)
    )
    return Pictures(crops=_crops(film, verdict, count), sheet=sheet)


def _crops(film: Footage, verdict: Verdict, count: int) -> dict[tuple[int, int], bytes]:
    upright_px = film.width if film.rotation_deg % 180 == 90 else film.height
    made: dict[tuple[int, int], bytes] = {}
    for which in shown_whole(verdict):
        piece, index = which
        one = verdict.pieces[piece].disagreements[index]
        if one.box_px is None or not 0 <= one.frames[0] < count:
            continue
        (picture,) = pictures(film, [one.frames[0]], upright_px)
        made[which] = crop_png(picture, one.box_px)
    return made
