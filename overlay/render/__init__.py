"""Decode, blend, encode: how a plan of instruments gets onto footage.

`burn` is the one entry; `join_pieces` makes one clip of what it made in pieces. A `Recipe` says how
the clip is encoded.
"""

from __future__ import annotations

from overlay.render.clip_plan import Chapter, Wanted
from overlay.render.encoders import ENCODERS, QUALITIES, Quality
from overlay.render.fitness import Surface, surface_of
from overlay.render.pieces import join_pieces
from overlay.render.pipeline import Burned, Drawable, burn
from overlay.render.recipe import Recipe

__all__ = [
    "ENCODERS",
    "QUALITIES",
    "Burned",
    "Chapter",
    "Drawable",
    "Quality",
    "Recipe",
    "Surface",
    "Wanted",
    "burn",
    "join_pieces",
    "surface_of",
]
