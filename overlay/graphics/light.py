"""What a colour is as light, and the signal that shows it on another kind of picture.

Colours of a theme are meant for an ordinary display: R'G'B' with BT.709's primaries, shown with
the curve of ITU-R BT.1886 (a power of 2.4). On a picture of greater range they are shown as that
display would show them, their white at the level that ITU-R BT.2408 gives graphics.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

Rgb = tuple[int, int, int]
"""Red, green and blue as 8-bit R'G'B' codes over the full range."""

Signal = tuple[float, float, float]
"""R', G' and B' from 0 to 1."""

Transfer = Literal["sdr", "hlg", "pq"]

DISPLAY_GAMMA = 2.4
"""ITU-R BT.1886, annex 1, for a black of zero."""

GRAPHICS_WHITE_CDM2 = 203.0
"""ITU-R BT.2408, table 1: HDR reference white, at which graphics white is set."""

HLG_PEAK_CDM2, HLG_SYSTEM_GAMMA = 1000.0, 1.2
"""ITU-R BT.2100, table 5: the nominal peak of an HLG display, and its system gamma there."""

PQ_PEAK_CDM2 = 10_000.0

_WHITE_D65 = (0.3127, 0.3290)
PRIMARIES: Mapping[str, tuple[tuple[float, float], ...]] = MappingProxyType(
    {
        # Chromaticities x, y of red, green and blue: BT.709-6 item 1.3, SMPTE RP 431-2 with the
        # white of D65 (H.273 table 2, value 12), BT.2020-2 table 3.
        "bt709": ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060)),
        "p3": ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)),
        "bt2020": ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046)),
    }
)
"""The primaries that a picture may have; all have the white of D65."""


def signal_of_rgb(rgb: Rgb, transfer: Transfer = "sdr", primaries: str = "bt709") -> Signal:
    """The signal that shows a theme's colour on a picture of some transfer and primaries."""
    signal = tuple(code / 255 for code in rgb)
    if transfer == "sdr" and primaries == "bt709":
        return signal[0], signal[1], signal[2]
    light = np.power(np.array(signal), DISPLAY_GAMMA)
    light = np.clip(_to_primaries(primaries) @ light, 0.0, 1.0)
    if transfer == "sdr":
        shown = [float(part) ** (1 / DISPLAY_GAMMA) for part in light]
    elif transfer == "pq":
        shown = [pq_signal(GRAPHICS_WHITE_CDM2 * float(part)) for part in light]
    else:
        shown = list(_hlg(light * GRAPHICS_WHITE_CDM2))
    return shown[0], shown[1], shown[2]


def pq_signal(light_cdm2: float) -> float:
    """The PQ signal of a display's light.

    ::

        E' = ((c1 + c2 Y^m1) / (1 + c3 Y^m1))^m2        Y = light / 10 000 cd/m²

    Source: ITU-R BT.2100-2, table 4 (the inverse of the EOTF).
    """
    m1, m2 = 2610 / 16384, 2523 / 4096 * 128
    c1, c2, c3 = 3424 / 4096, 2413 / 4096 * 32, 2392 / 4096 * 32
    power = (light_cdm2 / PQ_PEAK_CDM2) ** m1
    return float(((c1 + c2 * power) / (1 + c3 * power)) ** m2)


def hlg_signal(scene: float) -> float:
    """The HLG signal of scene light from 0 to 1.

    ::

        E' = √(3 E) up to E = 1/12, above it a ln(12 E - b) + c

    Source: ITU-R BT.2100-2, table 5 (the OETF).
    """
    a = 0.17883277
    b, c = 1 - 4 * a, 0.5 - a * math.log(4 * a)
    return math.sqrt(3 * scene) if scene <= 1 / 12 else a * math.log(12 * scene - b) + c


def _hlg(light_cdm2: NDArray[np.float64]) -> tuple[float, ...]:
    """The HLG signal of light on a display of nominal peak: the OOTF undone, then the OETF.

    ::

        Y = (Y_d / peak)^(1/γ)      E = (light / peak) · (Y_d / peak)^((1-γ)/γ)

    Source: ITU-R BT.2100-2, table 5 (OOTF and its inverse).
    """
    shares = light_cdm2 / HLG_PEAK_CDM2
    luminance = float(np.dot((0.2627, 0.6780, 0.0593), shares))
    if luminance == 0:
        return 0.0, 0.0, 0.0
    scene = shares * luminance ** ((1 - HLG_SYSTEM_GAMMA) / HLG_SYSTEM_GAMMA)
    return tuple(hlg_signal(float(part)) for part in scene)


@lru_cache(maxsize=len(PRIMARIES))
def _to_primaries(name: str) -> NDArray[np.float64]:
    """The matrix from light in BT.709's primaries to light in others."""
    return np.linalg.inv(_to_xyz(name)) @ _to_xyz("bt709")


def _to_xyz(name: str) -> NDArray[np.float64]:
    """Source: SMPTE RP 177, 3.3 (the matrix of a set of primaries and its white)."""
    columns = np.array([_xyz(x, y) for x, y in PRIMARIES[name]]).T
    return columns * np.linalg.solve(columns, _xyz(*_WHITE_D65))


def _xyz(x: float, y: float) -> NDArray[np.float64]:
    return np.array([x / y, 1.0, (1 - x - y) / y])
