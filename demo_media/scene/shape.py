"""The shape of the boat ahead of the helm, as the camera sees it.

Ahead counts from the camera's foot, right from the middle line, up from the water at rest.
"""

from __future__ import annotations

import numpy as np

from demo_media.scene.arrays import Floats

STEM_M = 3.55
"""The stem, ahead of the camera."""

HALF_BEAM_M = 1.08
RAIL_FROM_M = 1.35
RAIL_UP_M = 0.40


def half_breadth(ahead_m: Floats | float) -> Floats:
    """Half the deck's breadth: full at the helm, round at the bow."""
    share = np.clip(np.asarray(ahead_m, dtype=np.float64) / STEM_M, 0, 1)
    return HALF_BEAM_M * np.sqrt(np.maximum(1 - share**3.4, 0))


def sheer(ahead_m: Floats | float) -> Floats:
    """Height of the deck's edge, rising to the bow."""
    share = np.clip(np.asarray(ahead_m, dtype=np.float64) / STEM_M, 0, 1)
    return 0.80 + 0.24 * share**1.6


def outline(inset_m: float, drop_m: float, points: int = 120) -> tuple[Floats, Floats, Floats]:
    """The deck's edge from port around the stem to starboard, moved inwards and down.

    Returns
    -------
    ahead, right, up : [shape=(2 * points,), m]
    """
    share = np.sin(np.linspace(0, np.pi / 2, points))
    ahead = 0.25 + (STEM_M - 0.25) * share
    right = half_breadth(ahead)
    normal_ahead = -np.gradient(right, ahead + np.arange(points) * 1e-9)
    length = np.hypot(1.0, np.minimum(normal_ahead, 50.0))
    moved_ahead = ahead - inset_m * np.minimum(normal_ahead, 50.0) / length
    moved_right = np.maximum(right - inset_m / length, 0.0)
    up = sheer(ahead) - drop_m
    return (
        np.concatenate([moved_ahead, moved_ahead[::-1]]),
        np.concatenate([-moved_right, moved_right[::-1]]),
        np.concatenate([up, up[::-1]]),
    )


def rail(side: float, up_m: float = RAIL_UP_M, points: int = 60) -> tuple[Floats, Floats, Floats]:
    """The rail on one side (-1 port, 1 starboard), from its foot aft to the middle of the bow."""
    share = np.sin(np.linspace(0, np.pi / 2, points))
    ahead = RAIL_FROM_M + (STEM_M - 0.08 - RAIL_FROM_M) * share
    right = side * np.maximum(half_breadth(ahead * STEM_M / (STEM_M - 0.08)) - 0.07, 0.0)
    rise = up_m * np.clip((ahead - RAIL_FROM_M) / 0.35, 0, 1) ** 0.7
    return ahead, right, sheer(ahead) + 0.02 + rise
