"""Decode, blend, encode: how a plan of instruments gets onto footage.

`burn` is the one entry. A `Recipe` says how the clip is encoded.
"""

from __future__ import annotations

from overlay.render.encode import Chapter
from overlay.render.encoders import ENCODERS, QUALITIES, Quality
from overlay.render.fitness import Surface, surface_of
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
    "burn",
    "surface_of",
]
