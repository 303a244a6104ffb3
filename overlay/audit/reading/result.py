"""What the reading of a clip gives."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pandas import DataFrame

UNREAD = "?"
"""Stands for a character that cannot be told."""

TEXT_COLUMNS = (
    "frame", "pts", "t_clip_s", "kind", "index", "instrument", "item", "text", "confidence",
    "legible",
)  # fmt: skip

POINTER_COLUMNS = (
    "frame", "pts", "t_clip_s", "index", "instrument", "item", "value", "sd", "legible",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """What was read from the pictures of a clip.

    Parameters
    ----------
    texts
        A row for each field and still on each frame that was read: `frame` (its index), `pts`,
        `t_clip_s`, `kind` (`field` or `still`), `index` (its place in the layout's `fields` or
        `stills`), `instrument`, `item` (empty for stills), `text` (`UNREAD` for characters that
        cannot be told), `confidence` (of the least certain character, 0 to 1) and `legible`.
    pointers
        A row for each pointer on each frame that was read: `frame`, `pts`, `t_clip_s`, `index`
        (its place in `pointers`), `instrument`, `item`, `value` in the pointer's unit and `sd`,
        both NaN where it cannot be told or is not there, and `legible`: whether its scale can be
        seen, so that NaN means that there is no mark. An arc that is filled from its low end has
        none at `low` itself: nothing is painted there, and NaN is right.
    frames
        How many frames were read.
    """

    texts: DataFrame
    pointers: DataFrame
    frames: int
