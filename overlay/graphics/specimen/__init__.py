"""A specimen of everything that draws: each instrument in each state, each faceplate in each shape
of picture, with a made-up boat's data."""

from overlay.graphics.specimen.sheet import specimen

__all__ = ["specimen"]
