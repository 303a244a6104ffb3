"""Low-resolution twins: the same film in a smaller picture, where no more is needed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sync.errors import FootageError
from sync.media.footage import Footage, parts_of
from sync.media.frame_times import FrameTimes
from sync.media.frames import file_times
from sync.media.joining import on_clock

MOST_FRAMES_APART = 1
"""A camera may close the smaller film a frame earlier or later."""

SAME_SHAPE = 0.02
"""Shapes of pictures nearer than this are one: small sizes are rounded to whole blocks."""

_ADVICE = "name the low-resolution twin of that very file, or leave the proxy out"


def with_proxies(footage: Footage, proxies: Sequence[Footage]) -> Footage:
    """A recording with its twins at hand, on its own clock.

    Parameters
    ----------
    proxies
        One for each file of the recording, in their order.

    Raises
    ------
    FootageError
        Where one is no twin of its file, or there are not as many as files.
    """
    parts = parts_of(footage)
    if len(proxies) != len(parts):
        raise FootageError(
            f"has {len(parts)} files and {len(proxies)} proxies",
            path=footage.path,
            advice="name one proxy for each file, in the same order",
        )
    starts = []
    for part, proxy in zip(parts, proxies, strict=True):
        times = file_times(part.film)
        _refuse_stranger(part.film, proxy, times, file_times(proxy))
        starts.append(int(times.pts[0]) * times.time_base + part.shift_s)
    return replace(footage, proxy=on_clock(proxies, starts))


def on_proxy(footage: Footage) -> Footage:
    """The recording as its proxy shows it, on the same clock.

    Raises
    ------
    FootageError
        Where it has none.
    """
    if footage.proxy is None:
        raise FootageError(
            "has no proxy", path=footage.path, advice="name its twin in the sheet as `proxies`"
        )
    return footage.proxy


def may_be_twin(original: Footage, proxy: Footage) -> bool:
    """Whether a file may be the twin of another, by their headers alone."""
    if original.duration_s is None or proxy.duration_s is None:
        return False
    frame_s = 1 / float(original.average_rate_hz or 10)
    same_length = abs(original.duration_s - proxy.duration_s) <= 1.5 * frame_s
    return same_length and _shape_problem(original, proxy) is None


def _shape_problem(original: Footage, proxy: Footage) -> str | None:
    sizes = f"{proxy.width}×{proxy.height}, and the original {original.width}×{original.height}"
    if not (proxy.width < original.width and proxy.height < original.height):
        return f"its picture is {sizes}, which is not smaller"
    shapes = [float(film.width * film.sample_aspect / film.height) for film in (original, proxy)]
    if original.rotation_deg != proxy.rotation_deg or abs(shapes[0] / shapes[1] - 1) > SAME_SHAPE:
        return f"its picture is {sizes}, which has another shape"
    return None


def _refuse_stranger(
    original: Footage, proxy: Footage, times: FrameTimes, proxy_times: FrameTimes
) -> None:
    problem = _shape_problem(original, proxy)
    frames = len(proxy_times) - len(times)
    length_s = times.span.length_s
    frame_s = length_s / len(times)
    apart_s = proxy_times.span.length_s - length_s
    if problem is None and abs(frames) > MOST_FRAMES_APART:
        problem = f"it has {len(proxy_times)} frames, and the original {len(times)}"
    if problem is None and abs(apart_s) > 1.5 * frame_s:
        problem = f"it lasts {proxy_times.span.length_s:.3f} s, and the original {length_s:.3f} s"
    if problem is not None:
        raise FootageError(
            f"is no twin of {original.path.name}: {problem}", path=proxy.path, advice=_ADVICE
        )
