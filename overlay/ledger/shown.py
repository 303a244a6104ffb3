"""What a frame shows, as the ledger keeps it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One text on one frame.

    Parameters
    ----------
    instrument, item
        Which instrument of the faceplate showed it, and which of its texts it is.
    text
        The very text that was drawn.
    value
        The value behind it in SI, NaN where the text says that there is none.
    unit
        The sign of the unit that the text is in.
    t_shown_s
        The instant of log time (UTC) whose value is shown.
    box_px
        Left, top, width and height on the upright picture.
    font, size_px
        The font's file name and the size that it was drawn at.
    """

    instrument: str
    item: str
    text: str
    value: float
    unit: str
    t_shown_s: float
    box_px: tuple[int, int, int, int]
    font: str
    size_px: int
