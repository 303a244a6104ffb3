"""Single frames as upright RGB pictures, for a printed strip. Films never go this way."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sync.errors import FootageError
from sync.media.decoding import decoded_frames
from sync.media.ffmpeg_log import caught
from sync.media.footage import Footage
from sync.media.frame_times import FrameTimes
from sync.media.joining import frame_times

if TYPE_CHECKING:
    from av import VideoFrame

Picture = NDArray[np.uint8]

NEAR_FRAMES = 60
"""Frames no further apart than this are decoded in one go instead of being sought anew."""


def pictures(footage: Footage, indices: Sequence[int], height_px: int) -> tuple[Picture, ...]:
    """Frames as RGB pictures, upright, with square pixels, of one height.

    They come from the proxy where there is one that is no smaller than what is asked for.

    Parameters
    ----------
    indices
        Frame numbers, counted from 0, in any order.
    height_px
        Height of the upright pictures.

    Returns
    -------
    tuple of [shape=(height_px, width, 3), uint8]
        In the order of `indices`, read-only.

    Raises
    ------
    FootageError
        Where the footage has no frame of that number, or it cannot be decoded.
    """
    times = frame_times(footage)
    for index in indices:
        if not 0 <= index < len(times):
            raise FootageError(
                f"has no frame {index}: its frames are 0 to {len(times) - 1}",
                path=footage.path,
                advice="name one of these",
            )
    film, places = _smallest(footage, times, indices, height_px)
    made: dict[int, Picture] = {}
    wanted = set(places)
    own_times = frame_times(film)
    with caught():
        for stretch in _stretches(sorted(wanted)):
            for decoded in decoded_frames(film, own_times, stretch):
                if decoded.index in wanted:
                    made[decoded.index] = _rgb(decoded.picture, film, height_px)
    return tuple(made[place] for place in places)


def _smallest(
    footage: Footage, times: FrameTimes, indices: Sequence[int], height_px: int
) -> tuple[Footage, list[int]]:
    """The proxy where it is large enough, with the frames that it shows at those times."""
    proxy = footage.proxy
    if proxy is None:
        return footage, list(indices)
    upright_px = proxy.width if proxy.rotation_deg % 180 == 90 else proxy.height
    if upright_px < height_px:
        return footage, list(indices)
    shown = frame_times(proxy)
    return proxy, [shown.nearest(times.time_s(index)) for index in indices]


def _stretches(indices: Sequence[int]) -> list[range]:
    stretches: list[range] = []
    for index in indices:
        if stretches and index - stretches[-1][-1] <= NEAR_FRAMES:
            stretches[-1] = range(stretches[-1].start, index + 1)
        else:
            stretches.append(range(index, index + 1))
    return stretches


def _rgb(picture: VideoFrame, footage: Footage, height_px: int) -> Picture:
    colour = footage.colour.settled(width=footage.width, height=footage.height)
    wide = footage.width * footage.sample_aspect
    turned = footage.rotation_deg % 180 == 90
    share = height_px / (wide if turned else footage.height)
    width, height = max(1, round(wide * share)), max(1, round(footage.height * share))
    rgb = picture.reformat(
        width=width,
        height=height,
        format="rgb24",
        src_colorspace="ITU709" if colour.matrix == 1 else "ITU601",
        src_color_range="JPEG" if colour.full_range else "MPEG",
        interpolation="AREA",
    ).to_ndarray()
    upright = np.ascontiguousarray(np.rot90(rgb, footage.rotation_deg // 90))
    upright.setflags(write=False)
    return upright.astype(np.uint8, copy=False)
