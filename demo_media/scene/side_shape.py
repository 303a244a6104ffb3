"""The Ottervik 600 from outside: the lines of its hull, and what stands on it.

Ahead counts from amidships, port to the left of the middle line, up from the water at rest.
"""

from __future__ import annotations

import numpy as np

from demo_media.scene.arrays import Floats

HALF_LENGTH_M = 3.0
STATIONS = 29
"""Cross sections from the transom to the stem."""

HALF_BEAM_M = 1.1
FLOOR_M = 0.32
"""Height of the cockpit's floor."""


def stations() -> Floats:
    """Places of the sections, 0 at the transom and 1 at the stem, closer at the bow."""
    return np.sin(np.linspace(0, np.pi / 2, STATIONS)) ** 1.15


def ahead_m(share: Floats) -> Floats:
    """Where a section's upper edge is; the stem rakes, so that its foot lies further aft."""
    return -HALF_LENGTH_M + 2 * HALF_LENGTH_M * share


def sheer_m(share: Floats) -> tuple[Floats, Floats]:
    """Half breadth and height of the hull's upper edge."""
    half = HALF_BEAM_M * (0.94 + 0.06 * np.sin(np.pi * share)) * np.sqrt(1 - share**4.2)
    return half, 0.74 + 0.10 * share + 0.24 * share**2.2


def chine_m(share: Floats) -> tuple[Floats, Floats]:
    """Half breadth and height of the edge between bottom and side."""
    half = 0.92 * HALF_BEAM_M * np.sqrt(np.clip(1 - (share / 0.965) ** 3.2, 0, 1))
    height = -0.02 + 0.72 * np.clip((share - 0.45) / 0.52, 0, 1) ** 1.9
    return half, height


def keel_m(share: Floats) -> Floats:
    """Height of the keel: straight aft, sweeping up to the stem."""
    return -0.36 + 1.30 * np.clip((share - 0.60) / 0.40, 0, 1) ** 2.4


def rake_m(share: Floats, below_m: Floats) -> Floats:
    """How much further aft a point of a section is that lies below its upper edge."""
    return 0.55 * below_m * np.clip((share - 0.55) / 0.45, 0, 1) ** 1.5
