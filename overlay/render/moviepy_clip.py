"""Instruments as a clip of MoviePy, for whoever composes films with it.

The instruments over somebody's own clip, `background`, that shows the footage from its start:

>>> from moviepy import CompositeVideoClip
>>> instruments = instruments_clip(
...     plan, clock_map=to_utc, span=Span(start_s=0.0, stop_s=2.0), rate_hz=Fraction(25)
... )
>>> film = CompositeVideoClip([background, instruments])
>>> film.duration, film.get_frame(1.0).shape == background.get_frame(1.0).shape
(2.0, True)
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overlay.errors import RenderError
from overlay.graphics.picture import RGB
from overlay.graphics.plan import Plan
from overlay.render.transparent import straighten
from sync.clock import ClockMap, Span

Rgb = NDArray[np.uint8]


def instruments_clip(plan: Plan, *, clock_map: ClockMap, span: Span, rate_hz: Fraction) -> Any:
    """The instruments alone, as a MoviePy clip whose mask is what they cover.

    Both are drawn once for an instant, whoever asks for it. As a plan belongs to one thread at a
    time, so does the clip.

    Parameters
    ----------
    plan
        Compiled for a picture of red, green and blue: `Picture(..., matrix="rgb",
        chroma=(1, 1))`.
    clock_map
        From the footage clock to UTC.
    span
        The stretch of the footage that the clip covers; its start is 0 in the clip.
    rate_hz
        Frames a second.

    Returns
    -------
    moviepy.VideoClip
        Straight colours, as MoviePy's compositing takes them, and `.mask`.

    Raises
    ------
    RenderError
        Where the plan is for another kind of picture.
    """
    from moviepy import VideoClip

    picture = plan.picture
    if picture.matrix != RGB or picture.depth != 8:
        raise RenderError(
            f"the plan is for a picture in {picture.matrix} of {picture.depth} bits, and MoviePy "
            "has red, green and blue of 8",
            advice="compile the plan for Picture(..., matrix='rgb', chroma=(1, 1))",
        )
    drawn = _Drawn(plan, clock_map, span.start_s)
    clip, mask = VideoClip(duration=span.length_s), VideoClip(is_mask=True, duration=span.length_s)
    clip.frame_function, mask.frame_function = drawn.colours, drawn.coverage
    for one in (clip, mask):
        one.size = (picture.width_px, picture.height_px)
        one.fps = float(rate_hz)
    clip.mask = mask
    return clip


class _Drawn:
    """What a plan draws at one instant, kept until another is asked for."""

    def __init__(self, plan: Plan, clock_map: ClockMap, start_s: float) -> None:
        self._plan, self._clock_map, self._start_s = plan, clock_map, start_s
        shape = plan.picture.height_px, plan.picture.width_px
        self._planes = tuple(np.zeros(shape, np.uint8) for _ in range(4))
        self._t_s: float | None = None
        self._colours: Rgb | None = None

    def colours(self, t_s: float) -> Rgb:
        """R'G'B' [shape=(rows, columns, 3)], not multiplied by the coverage."""
        self._draw(t_s)
        if self._colours is None:
            red, green, blue, alpha = (plane.copy() for plane in self._planes)
            straighten((red, green, blue, alpha), self._plan.picture)
            self._colours = np.stack([red, green, blue], axis=-1)
        return self._colours

    def coverage(self, t_s: float) -> NDArray[np.float64]:
        """From 0 to 1 [shape=(rows, columns)]."""
        self._draw(t_s)
        covers: NDArray[np.float64] = _COVERAGE[self._planes[3]]
        return covers

    def _draw(self, t_s: float) -> None:
        if t_s == self._t_s:
            return
        for plane in self._planes:
            plane.fill(0)
        red, green, blue, alpha = self._planes
        t_utc_s = self._clock_map.carry(self._start_s + t_s)
        self._plan.draw((red, green, blue, alpha), t_utc_s)
        self._t_s, self._colours = t_s, None


def _coverage() -> NDArray[np.float64]:
    """Each code as a share that MoviePy, which multiplies by 255 and cuts off, makes the same
    code of."""
    shares = np.arange(256) / 255
    short = np.floor(shares * 255) < np.arange(256)
    return np.where(short, np.nextafter(shares, 2.0), shares)


_COVERAGE = _coverage()
