"""What an instrument has at hand: the picture, the theme, its channel, and sizes in shares."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from overlay.analysis.signals import Sample, Signal
from overlay.figures import Figure
from overlay.graphics.lettering import Face, Lettering
from overlay.graphics.light import Rgb
from overlay.graphics.picture import Picture, Yuv
from overlay.graphics.subject import Subject
from overlay.graphics.theme import Theme

Box = tuple[int, int, int, int]
"""Left, top, width and height."""

Size = tuple[int, int]
"""Width and height."""

PADDING = 0.02
"""Room between the edge of a plate and what stands on it, as a share of the short side."""

FRAME_INSET = 0.006
"""How far inside the edge of a plate its hairline runs, as a share of the short side."""

HAIRLINE = 0.0014
"""Width of an engraved line, as a share of the short side."""

WEIGHTS = MappingProxyType(
    {"lead": "strong", "second": "strong", "label": "plain", "unit": "plain"}
)
"""The weight of each sort of lettering."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bench:
    """What an instrument has at hand while it is compiled, and while it is drawn.

    `signal` is None where the trial has no such channel; `figure` says how its values are
    written, and is None for an instrument that shows the run. `room_px` is how wide the safe
    area is.
    """

    name: str
    options: Mapping[str, Any]
    picture: Picture
    theme: Theme
    lettering: Lettering
    subject: Subject
    channel: str
    signal: Signal | None
    figure: Figure | None
    label: str
    least_width_px: int
    room_px: int

    @property
    def how(self) -> Figure:
        """How the channel is written; only for instruments that show one."""
        assert self.figure is not None  # faceplates give these kinds a channel
        return self.figure

    def px(self, share: float) -> int:
        """A share of the short side in whole pixels."""
        return self.picture.px(share)

    def even(self, share: float) -> int:
        """A share of the short side in pixels, rounded up to an even number."""
        return self.picture.even(share)

    @property
    def hairline_px(self) -> int:
        """Width of an engraved line."""
        return self.picture.px(HAIRLINE)

    @property
    def padding_px(self) -> int:
        """Room between the edge of a plate and what stands on it."""
        return self.picture.px(PADDING)

    @property
    def tracking_px(self) -> int:
        """What is added between the letters of a label."""
        return self.picture.px(self.theme.tracking)

    def colour(self, name: str) -> Yuv:
        """A colour of the theme in the codes of the picture."""
        return _codes(self.picture, getattr(self.theme.colours, name))

    def face(self, role: str) -> Face:
        """The font for a sort of lettering: `lead`, `second`, `label` or `unit`."""
        share = getattr(self.theme, "label" if role == "unit" else role)
        # Never below the share, whatever the picture's size.
        cap_px = -int(-share * self.picture.short_px // 1)
        return self.lettering.face(WEIGHTS[role], cap_px)

    def label_width(self, text: str) -> int:
        """Width of a text when it is set as a label."""
        return self.face("label").line(text.upper(), self.tracking_px).advance_px

    def sample(self, t_utc_s: float) -> Sample:
        """What is shown of the channel at an instant."""
        if self.signal is None:
            return Sample(t_s=t_utc_s, value=float("nan"))
        return self.signal.sample(t_utc_s)


@lru_cache(maxsize=256)
def _codes(picture: Picture, rgb: Rgb) -> Yuv:
    """A colour in the codes of a picture, worked out once."""
    return picture.yuv(rgb)


class Held:
    """The greatest value shown since the run began, for an instant; NaN before."""

    def __init__(self, bench: Bench) -> None:
        self._signal = bench.signal
        self._run = bench.subject.run

    def at(self, t_utc_s: float) -> float:
        """The value that is held at an instant."""
        if self._signal is None or t_utc_s < self._run.start_utc_s:
            return float("nan")
        return self._signal.greatest(self._run.start_utc_s, t_utc_s).value
