"""Instruments on nothing: a transparent render, on log time, for an editing program.

What is drawn is laid over black that covers nothing, which makes premultiplied colour and its
coverage at once. Straight colour is that divided by the coverage.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from overlay.graphics.picture import Picture, Yuv
from overlay.render.encode import LIMITED_RANGE
from overlay.render.forms import Transparent
from overlay.render.pipeline import Drawable, Progress, Record
from overlay.render.stages import Belt, Stage, StoppedError, join_all
from overlay.render.transparent_files import BT709, write_film, write_pictures
from sync.media.ffmpeg_log import caught
from sync.media.planes import planes_of

if TYPE_CHECKING:
    from av import VideoFrame

_Codes = NDArray[np.unsignedinteger[Any]]
_Covered = tuple[_Codes, _Codes, _Codes, _Codes]


def draw_transparent(
    plan: Drawable,
    output: Path,
    job: Transparent,
    *,
    record: Record | None = None,
    progress: Progress | None = None,
    tags: Mapping[str, str] | None = None,
) -> tuple[str, ...]:
    """Draw a plan on nothing, frame by frame.

    Parameters
    ----------
    plan
        Compiled for the job's picture.
    output
        Where it is written to, beside its place: a file, or a folder that is there.
    record
        As `burn` calls it; the clip's own clock stands for that of the footage.

    Returns
    -------
    tuple
        Warnings.

    Raises
    ------
    OutputError
        Where it cannot be written.
    """
    with caught() as messages:
        stop = threading.Event()
        belt: Belt[VideoFrame] = Belt(stop)
        write = write_film if job.form.codec else write_pictures
        writer = Stage("encode", lambda: write(belt, output, job, tags or {}), stop)
        writer.start()
        try:
            _draw_all(plan, belt, job, record, progress)
            belt.end()
        except StoppedError:
            pass  # the writer has failed; what it says is raised below
        except BaseException:
            stop.set()
            raise
        finally:
            join_all((writer,), stop)
        if writer.failure is not None:
            raise writer.failure
    return tuple(dict.fromkeys(messages.lines()))


def _draw_all(
    plan: Drawable,
    belt: Belt[VideoFrame],
    job: Transparent,
    record: Record | None,
    progress: Progress | None,
) -> None:
    times = job.times
    for number in range(times.frames):
        t_utc_s = times.instant_s(number)
        frame, shown = drawn_frame(plan, job, t_utc_s)
        frame.pts = number
        frame.time_base = 1 / times.rate_hz
        belt.put(frame)
        if record is not None:
            record(number, number, float(number / times.rate_hz), t_utc_s, shown)
        if progress is not None:
            progress(number + 1, times.frames)


def drawn_frame(
    plan: Drawable, job: Transparent, t_utc_s: float
) -> tuple[VideoFrame, tuple[Any, ...]]:
    """One frame of a transparent render, and what it shows."""
    from av import VideoFrame

    form, picture = job.form, job.picture
    frame = VideoFrame(picture.width_px, picture.height_px, form.pix_fmt)
    if form.pix_fmt == "rgba":
        pixels = np.zeros((4, picture.height_px, picture.width_px), np.uint8)
        planes = (pixels[0], pixels[1], pixels[2], pixels[3])
    else:
        y, u, v, a = planes_of(frame)
        planes = (y, u, v, a)
        for plane, code in zip(planes, _codes(picture.empty), strict=True):
            plane[...] = code
    shown = plan.draw(planes, t_utc_s)
    if job.alpha == "straight":
        straighten(planes, picture)
    if form.pix_fmt == "rgba":
        target = frame.planes[0]
        rows = np.frombuffer(memoryview(target), np.uint8).reshape(target.height, -1)
        rows[:, : 4 * picture.width_px].reshape(pixels.shape[1], -1, 4)[...] = pixels.transpose(
            1, 2, 0
        )
    else:
        frame.colorspace = frame.color_primaries = frame.color_trc = BT709
        frame.color_range = LIMITED_RANGE
    return frame, shown


def _codes(empty: Yuv) -> tuple[int, int, int, int]:
    return empty.y, empty.u, empty.v, 0


def straighten(planes: _Covered, picture: Picture) -> None:
    """Make straight colour of premultiplied, in place, where anything is covered.

    ::

        straight = empty + (premultiplied - empty) / coverage

    Chroma is divided by the mean coverage of the pixels that share it; where nothing is covered
    the picture stays black.
    """
    alpha = planes[3]
    rows, columns = np.flatnonzero(alpha.any(axis=1)), np.flatnonzero(alpha.any(axis=0))
    if not rows.size:
        return
    top, stop = int(rows[0]) // 2 * 2, -(-(int(rows[-1]) + 1) // 2) * 2
    left, right = int(columns[0]) // 2 * 2, -(-(int(columns[-1]) + 1) // 2) * 2
    cover = alpha[top:stop, left:right] / np.float32(picture.top_code)
    across, down = picture.chroma
    shared = cover
    if (across, down) != (1, 1):
        high, wide = cover.shape
        shared = cover.reshape(high // down, down, wide // across, across).mean(
            (1, 3), dtype=np.float32
        )
    small = np.s_[top // down : stop // down, left // across : right // across]
    empty = picture.empty
    _divide(planes[0][top:stop, left:right], cover, empty.y, picture.top_code)
    _divide(planes[1][small], shared, empty.u, picture.top_code)
    _divide(planes[2][small], shared, empty.v, picture.top_code)


def _divide(plane: _Codes, cover: NDArray[np.floating[Any]], empty: int, top_code: int) -> None:
    there = cover > 0
    codes = plane[there].astype(np.float32)
    straight = empty + (codes - empty) / cover[there]
    plane[there] = np.clip(np.rint(straight), 0, top_code).astype(plane.dtype)
