"""What is asked of a render beside what the sheet says."""

from __future__ import annotations

from dataclasses import dataclass

from overlay.errors import RenderError
from overlay.render import Quality, Recipe
from sync.media import Footage
from sync.units import parse_quantity

LONGEST_HANDLES_S = 600.0


def handles_s(text: str) -> float:
    """How much film before and after a run is asked for, from a text such as `2 s`.

    Raises
    ------
    UnitError
        Where it is no time.
    RenderError
        Where it is below nothing, or longer than ten minutes.
    """
    given = parse_quantity(text, "time")
    if not 0 <= given <= LONGEST_HANDLES_S:
        raise RenderError(
            f"handles of {text} are not between 0 s and {LONGEST_HANDLES_S / 60:g} min"
        )
    return given


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
    """

    encoder: str | None = None
    quality: Quality = "upload"
    recipe: Recipe | None = None
    handles_s: float | None = None
    start: str | None = None
    stop: str | None = None
    strip_location: bool = False
    proxy: bool = False

    def recipe_for(self, footage: Footage) -> Recipe:
        """The recipe for footage: H.264 for 8 bits, which everything plays, else H.265."""
        if self.recipe is not None:
            return self.recipe
        suits = "x264" if footage.bit_depth <= 8 else "x265"
        return Recipe.of(self.encoder or suits, self.quality)
