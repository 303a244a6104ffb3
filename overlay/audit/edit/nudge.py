"""Scale and offset of a picture inside another, closer than bars can say."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from overlay.audit.edit.framing import Framing

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Pictures = NDArray[np.float32]

SCALE_ROOM = 0.03
SMOOTH_PX = 1.0
TUKEY = 3.0


def nudged(
    framing: Framing, source_px: tuple[float, float], film: Pictures, source: Pictures,
    seen: NDArray[np.bool_],
) -> tuple[Framing, float]:  # fmt: skip
    """A framing put right by what is left between pictures, and by how many pixels at most.

    Gauss-Newton on a shift and a scale for each axis, with gain and level, for all pictures at
    once; pixels that disagree (a logo, instruments) are weighed down by Tukey's biweight::

        film(u) = gain * source(u + a + b u) + level + noise

    Parameters
    ----------
    film, source : [shape=(n, height, width)]
        Pairs of one moment, in the source's geometry by the framing so far.
    seen : [shape=(height, width)]
        Where the film shows the source.
    """
    high, wide = source.shape[1:]
    x = (np.arange(wide) + 0.5)[None, :].repeat(high, 0)
    y = (np.arange(high) + 0.5)[:, None].repeat(wide, 1)
    film, source = _smooth(film), _smooth(source)
    down = np.asarray(np.gradient(source, axis=1), np.float64)
    across = np.asarray(np.gradient(source, axis=2), np.float64)
    mask = np.broadcast_to(_inner(seen), source.shape)
    design = np.stack(
        [part[mask] for part in (
            across, across * (x - wide / 2), down, down * (y - high / 2),
            source, np.ones_like(source),
        )], axis=1,
    ).astype(np.float64)  # fmt: skip
    target = film[mask].astype(np.float64)
    weight = np.ones(len(target))
    solved: NDArray[np.floating[Any]] = np.zeros(6)
    for _ in range(4):
        weighed = design * weight[:, None]
        solved = np.linalg.lstsq(weighed.T @ design, weighed.T @ target, rcond=None)[0]
        off = np.abs(target - design @ solved)
        border = TUKEY * 1.4826 * float(np.median(off)) + 0.5
        weight = np.square(np.clip(1 - np.square(off / border), 0, None))
    gain = solved[4] if abs(solved[4]) > 0.1 else 1.0
    b_x, b_y = (float(np.clip(solved[n] / gain, -SCALE_ROOM, SCALE_ROOM)) for n in (1, 3))
    a_x, a_y = float(solved[0] / gain) - b_x * wide / 2, float(solved[2] / gain) - b_y * high / 2
    to_x, to_y = source_px[0] / wide, source_px[1] / high
    moved = max(abs(a_x) * to_x, abs(a_x + b_x * wide) * to_x, abs(a_y) * to_y,
                abs(a_y + b_y * high) * to_y)  # fmt: skip
    scale_x, scale_y = framing.scale_x / (1 + b_x), framing.scale_y / (1 + b_y)
    better = replace(
        framing,
        scale_x=scale_x,
        scale_y=scale_y,
        left_px=framing.left_px - scale_x * a_x * to_x,
        top_px=framing.top_px - scale_y * a_y * to_y,
    )
    return better, moved


def _smooth(pictures: Pictures) -> Pictures:
    import cv2

    return np.stack([cv2.GaussianBlur(one, (0, 0), SMOOTH_PX) for one in pictures])


def _inner(seen: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Two pixels inside of what is seen: smoothing mixes what lies on both sides of an edge."""
    import cv2

    kernel = np.ones((5, 5), np.uint8)
    inner = cv2.erode(seen.astype(np.uint8), kernel, borderType=cv2.BORDER_CONSTANT, borderValue=0)
    return np.asarray(inner, bool)
