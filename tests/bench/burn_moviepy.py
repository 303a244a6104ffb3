"""The same instruments composed with MoviePy.

`plates`: every part of the plan is a clip of its own, with its mask, no larger than it must be, and
it is drawn by the plan itself; so what MoviePy is charged for is composing, not drawing.
`as_offered`: the one clip of the picture's size that `overlay.render`
offers to those who edit with MoviePy. Sound is left out, which MoviePy would encode anew.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np
from burn_film import RATE
from burn_render import CLOCK, the_plan
from moviepy import CompositeVideoClip, VideoClip, VideoFileClip
from numpy.typing import NDArray

from overlay.graphics.instruments.base import Part
from overlay.graphics.picture import Picture
from overlay.render import Recipe
from overlay.render.moviepy_clip import instruments_clip
from sync.clock import Span
from sync.media import Footage


class Plate:
    """A part of a plan as straight colours and a mask, both made once for an instant."""

    def __init__(self, part: Part, picture: Picture) -> None:
        self._part = part
        shape = (picture.height_px, picture.width_px)
        red, green, blue, mask = (np.zeros(shape, np.uint8) for _ in range(4))
        self._planes = red, green, blue, mask
        left, top, width, height = part.box
        self._cut = np.s_[top : top + height, left : left + width]
        self._at: float | None = None
        self._made: tuple[NDArray[np.uint8], NDArray[np.float64]]

    def clip(self, seconds: float) -> VideoClip:
        """The part at its place, with its mask."""
        mask = VideoClip(lambda t: self._drawn(t)[1], is_mask=True, duration=seconds)
        colours = VideoClip(lambda t: self._drawn(t)[0], duration=seconds)
        return colours.with_mask(mask).with_position(self._part.box[:2])

    def _drawn(self, t_s: float) -> tuple[NDArray[np.uint8], NDArray[np.float64]]:
        if t_s != self._at:
            here = [plane[self._cut] for plane in self._planes]
            for plane in here:
                plane.fill(0)
            self._part.draw(self._planes, float(CLOCK.carry(t_s)))
            *colours, mask = here
            whole = np.maximum(mask, 1).astype(np.float32)[..., None]
            straight = cv2.merge(colours) * (255 / whole)  # drawn multiplied by their coverage
            self._made = np.minimum(straight + 0.5, 255).astype(np.uint8), mask / 255
            self._at = t_s
        return self._made


def plates(footage: Footage, output: Path, recipe: Recipe) -> None:
    """The film with a clip of its own for every part of the plan."""
    plan = the_plan(footage, rgb=True)
    with VideoFileClip(str(footage.path), audio=False) as base:
        clips = [Plate(part, plan.picture).clip(base.duration) for part in plan.parts]
        write(CompositeVideoClip([base, *clips], use_bgclip=True), output, recipe)


def as_offered(footage: Footage, output: Path, recipe: Recipe) -> None:
    """The film with the one clip that the product offers."""
    plan = the_plan(footage, rgb=True)
    with VideoFileClip(str(footage.path), audio=False) as base:
        span = Span(start_s=0.0, stop_s=base.duration)
        over = instruments_clip(plan, clock_map=CLOCK, span=span, rate_hz=Fraction(RATE))
        write(CompositeVideoClip([base, over], use_bgclip=True), output, recipe)


def write(clip: VideoClip, output: Path, recipe: Recipe) -> None:
    """Write a clip with the render's own effort and quality."""
    clip.write_videofile(
        str(output),
        codec=recipe.codec,
        preset=recipe.preset,
        ffmpeg_params=["-crf", str(recipe.crf)],
        threads=recipe.threads,
        audio=False,
        logger=None,
    )
