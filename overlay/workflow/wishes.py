"""What is asked of a render beside what the sheet says."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from overlay.errors import WishError
from overlay.render import Quality, Recipe
from overlay.render.cropping import Shape
from sync.media import Footage
from sync.units import parse_quantity

Units = Literal["us", "nautical", "metric"]

LONGEST_HANDLES_S = 600.0


def handles_s(text: str) -> float:
    """How much film before and after a run is asked for, from a text such as `2 s`.

    Raises
    ------
    UnitError
        Where it is no time.
    WishError
        Where it is below nothing, or longer than ten minutes.
    """
    given = parse_quantity(text, "time")
    if not 0 <= given <= LONGEST_HANDLES_S:
        raise WishError(f"handles of {text} are not between 0 s and {LONGEST_HANDLES_S / 60:g} min")
    return given


def _plain(text: str | None) -> str:
    """An instant that a person named, as part of a file's name."""
    return re.sub(r"[^0-9A-Za-z.]+", "-", (text or "").replace(" ", "")).strip("-.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """How clips are wanted.

    Parameters
    ----------
    encoder
        A key of `ENCODERS`; None for the one that suits the footage.
    quality
        How good, and how slow.
    recipe
        All of that settled already.
    handles_s
        Film before and after each run, instead of what the sheet says.
    start, stop
        Where in the recording to begin and to end, as a person names it.
    strip_location
        Whether the clip must not tell where it was shot.
    proxy
        Whether the low-resolution twins are rendered on, for a quick look.
    units
        The set that the clip's readers think in; None for the sheet's own.
    shape
        Of the picture; None for what the sheet says.
    place
        The clip's file, wherever that is; None for where the sheet has it. Of one clip alone.
    """

    encoder: str | None = None
    quality: Quality = "upload"
    recipe: Recipe | None = None
    handles_s: float | None = None
    start: str | None = None
    stop: str | None = None
    strip_location: bool = False
    proxy: bool = False
    units: Units | None = None
    shape: Shape | None = None
    place: Path | None = None

    @property
    def departs(self) -> tuple[str, ...]:
        """In what a clip so wanted is another than the sheet's, as parts of a file's name."""
        parts = []
        if self.start is not None or self.stop is not None:
            parts.append(f"{_plain(self.start) or 'start'}-{_plain(self.stop) or 'end'}")
        if self.handles_s is not None:
            parts.append(f"handles-{self.handles_s:g}s")
        if self.encoder is not None:
            parts.append(self.encoder)
        if self.quality != "upload":
            parts.append(self.quality)
        if self.units is not None:
            parts.append(self.units)
        if self.shape is not None:
            parts.append(self.shape)
        return tuple(parts)

    def recipe_for(self, footage: Footage) -> Recipe:
        """The recipe for footage: H.264 for 8 bits, which everything plays, else H.265."""
        if self.recipe is not None:
            return self.recipe
        suits = "x264" if footage.bit_depth <= 8 else "x265"
        return Recipe.of(self.encoder or suits, self.quality)
