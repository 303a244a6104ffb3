"""The demo trial: its simulation, its logs, its footage recipe.

`make_demo` writes an invented boat's day, or its first minutes, into a folder: logs as
instruments write them, footage from three cameras, a trial sheet, and the truth that results
can be held against.
"""

from __future__ import annotations

from demo_media.make import DemoTrial, demo_sheet, make_demo
from demo_media.recipe import FootageRecipe
from demo_media.truth import Truth

__all__ = ["DemoTrial", "FootageRecipe", "Truth", "demo_sheet", "make_demo"]
