"""Where the picture of a source lies inside the picture of a film: bars, scale and offset."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.edit.covers import Edges

if TYPE_CHECKING:
    from numpy.typing import NDArray

BAR_CODE = 26
"""No darker than this in limited range, with what encoders add, and a row is no bar."""

BAR_SHARE = 0.75
"""Share of a row that is dark in every frame: a logo may stand on a bar."""

LEAST_SHARE = 0.3
"""A picture smaller than this share of the film's, either way, is not looked for."""

SAME_SHAPE = 0.03
"""Two shapes whose sides' ratios are this near are taken for one, since bars are found to a few
pixels only."""

WHOLE, IN_PART = 0.9, 0.6
"""A cell of a print counts as seen where so much of it is; the latter where too few are."""

ENOUGH_CELLS = 12

SNAPS = ((0.01, 1 / 700), (0.005, 1 / 1200))
"""Steps of scale, and how near, as a share of the film's longer side, a framing must come to one to
be taken for it; framings are found to about the latter where something stands still, and to the
former in water that encoders drag along (measured on scaled films)."""

OTHER_SCALES = (0.9, 1.1, 0.8, 1.25, 0.7, 1.4, 0.6, 0.5)
"""Scales about the middle that are tried where nothing else is found."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Framing:
    """From a source's upright picture to the film's, both in pixels counted from the corner.

    ::

        x_film = scale_x * x + left_px        y_film = scale_y * y + top_px

    `box_px` is the part of the film's picture in which the source is seen: left, top, right and
    bottom. The corner is that of the first pixel, whose middle lies at a half. `hidden_px` are
    parts of that, alike, over which something else may have been laid.
    """

    scale_x: float
    scale_y: float
    left_px: float
    top_px: float
    box_px: Edges
    hidden_px: tuple[Edges, ...] = ()


def picture_box(small: NDArray[np.uint8]) -> tuple[int, int, int, int]:
    """What bars leave of small pictures [shape=(n, height, width)]: left, top, right, bottom.

    A row is part of a bar where three quarters of it are black in every picture.
    """
    brightest = np.asarray(small).max(axis=0)
    dark = brightest <= BAR_CODE
    rows = dark.mean(axis=1) >= BAR_SHARE
    top, bottom = _inside(rows)
    if bottom - top < LEAST_SHARE * len(rows):
        return 0, 0, small.shape[2], small.shape[1]
    left, right = _inside(dark[top:bottom].mean(axis=0) >= BAR_SHARE)
    if right - left < LEAST_SHARE * small.shape[2]:
        return 0, 0, small.shape[2], small.shape[1]
    return left, top, right, bottom


def _inside(bar: NDArray[np.bool_]) -> tuple[int, int]:
    """From the first to past the last that is no bar."""
    lit = np.flatnonzero(~bar)
    return (int(lit[0]), int(lit[-1]) + 1) if len(lit) else (0, 0)


def likely_framings(
    box: tuple[int, int, int, int],
    small_px: tuple[int, int],
    film_px: tuple[float, float],
    source_px: tuple[float, float],
) -> tuple[Framing, ...]:
    """Ways in which a source may have been fitted into a film, the likeliest first.

    Parameters
    ----------
    box
        What bars leave of the small picture.
    small_px, film_px, source_px
        Width and height of the small picture, of the film and of the source.
    """
    across, down = film_px[0] / small_px[0], film_px[1] / small_px[1]
    left, top, right, bottom = box[0] * across, box[1] * down, box[2] * across, box[3] * down
    seen = (left, top, right, bottom)
    whole = (0.0, 0.0, *film_px)
    found: list[Framing] = []
    shape = (right - left) / (bottom - top) * source_px[1] / source_px[0]
    slack = SAME_SHAPE + across / (right - left) + down / (bottom - top)
    if abs(shape - 1) < slack:
        found.append(_stretched(seen, source_px, seen))
    for room in dict.fromkeys((seen, whole)):
        width, height = room[2] - room[0], room[3] - room[1]
        shares = (width / source_px[0], height / source_px[1])
        found += [
            about_middle(room, source_px, scale, seen)
            for scale in dict.fromkeys((max(shares), min(shares)))
        ]
    return _unlike(found, source_px)


def other_framings(
    film_px: tuple[float, float],
    source_px: tuple[float, float],
) -> tuple[Framing, ...]:
    """The source made smaller or larger about the middle of the film."""
    fitted = min(film_px[0] / source_px[0], film_px[1] / source_px[1])
    whole = (0.0, 0.0, *film_px)
    return tuple(about_middle(whole, source_px, fitted * by, whole) for by in OTHER_SCALES)


def about_middle(
    room: Edges,
    source_px: tuple[float, float],
    scale: float,
    seen: Edges,
) -> Framing:
    """The source at a scale, its middle on the middle of a room."""
    left = (room[0] + room[2] - scale * source_px[0]) / 2
    top = (room[1] + room[3] - scale * source_px[1]) / 2
    return Framing(
        scale_x=scale,
        scale_y=scale,
        left_px=left,
        top_px=top,
        box_px=_cut((left, top, scale, scale), source_px, seen),
    )


def _stretched(
    room: Edges,
    source_px: tuple[float, float],
    seen: Edges,
) -> Framing:
    return Framing(
        scale_x=(room[2] - room[0]) / source_px[0],
        scale_y=(room[3] - room[1]) / source_px[1],
        left_px=room[0],
        top_px=room[1],
        box_px=seen,
    )


def _cut(
    placed: Edges,
    source_px: tuple[float, float],
    seen: Edges,
) -> Edges:
    """What can be seen of a placed source."""
    left, top, scale_x, scale_y = placed
    return (
        max(seen[0], left),
        max(seen[1], top),
        min(seen[2], left + scale_x * source_px[0]),
        min(seen[3], top + scale_y * source_px[1]),
    )


def _unlike(found: list[Framing], source_px: tuple[float, float]) -> tuple[Framing, ...]:
    """Without those that put the source where another one has it already, to 2 % of its size."""
    kept: list[Framing] = []
    for one in found:
        near = (
            _farthest(one, other, source_px) < 0.02 * max(source_px) * one.scale_x for other in kept
        )
        if not any(near):
            kept.append(one)
    return tuple(kept)


def resized(
    framing: Framing, source_px: tuple[float, float], other_px: tuple[float, float]
) -> Framing:
    """The same framing of a source of the same shape and another size."""
    return replace(
        framing,
        scale_x=framing.scale_x * source_px[0] / other_px[0],
        scale_y=framing.scale_y * source_px[1] / other_px[1],
    )


def snapped(
    framing: Framing, film_px: tuple[float, float], source_px: tuple[float, float]
) -> Framing:
    """The framing that an editor will have meant, where one is within a pixel or so.

    One scale both ways, in steps of what fits as a whole, and the middle on the middle.
    """
    fitted = min(film_px[0] / source_px[0], film_px[1] / source_px[1])
    whole = (0.0, 0.0, *film_px)
    across, down = framing.scale_x * source_px[0], framing.scale_y * source_px[1]
    mean = (across + down) / (source_px[0] + source_px[1]) / fitted
    for step, border in SNAPS:
        scale = round(mean / step) * step * fitted
        meant = about_middle(whole, source_px, scale, whole)
        if _farthest(framing, meant, source_px) <= border * max(film_px):
            return replace(meant, box_px=framing.box_px, hidden_px=framing.hidden_px)
    return framing


def _farthest(one: Framing, other: Framing, source_px: tuple[float, float]) -> float:
    """By how many pixels of the film two framings differ in a corner, either way, at most."""
    return max(
        max(
            abs((one.scale_x - other.scale_x) * x + one.left_px - other.left_px),
            abs((one.scale_y - other.scale_y) * y + one.top_px - other.top_px),
        )
        for x, y in ((0.0, 0.0), source_px)
    )


def canonical_size(source_px: tuple[float, float]) -> tuple[int, int]:
    """Width and height of the pictures on which film and source are held against each other:
    the longer side has 128, and cells of prints are whole pixels of it."""
    share = 128 / max(source_px)
    wide = max(8, 8 * round(source_px[0] * share / 8))
    high = max(4, 4 * round(source_px[1] * share / 4))
    return wide, high


def unframed(
    small: NDArray[np.uint8],
    framing: Framing,
    film_px: tuple[float, float],
    source_px: tuple[float, float],
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Small pictures of the film as the source would have them, and where they show it.

    Returns
    -------
    pictures
        [shape=(n, height, width)] of the canonical size.
    seen
        [shape=(height, width)]
    """
    import cv2

    wide, high = canonical_size(source_px)
    matrix = _to_small(framing, small.shape[1:], film_px, source_px, (wide, high))
    out = np.empty((len(small), high, wide), np.float32)
    for number, picture in enumerate(small):
        out[number] = cv2.warpAffine(
            np.asarray(picture, np.float32),
            matrix,
            (wide, high),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )
    return out, _seen(framing, source_px, (wide, high))


def _to_small(
    framing: Framing,
    small_shape: tuple[int, ...],
    film_px: tuple[float, float],
    source_px: tuple[float, float],
    size: tuple[int, int],
) -> NDArray[np.float64]:
    """From the middles of canonical pixels to those of the film's small picture."""
    rows = []
    for axis, (scale, shift) in enumerate(
        ((framing.scale_x, framing.left_px), (framing.scale_y, framing.top_px))
    ):
        small = small_shape[1 - axis] / film_px[axis]
        step = source_px[axis] / size[axis]
        by = scale * step * small
        rows.append((by, by / 2 + shift * small - 0.5))
    (a, b), (c, d) = rows
    return np.array([[a, 0.0, b], [0.0, c, d]])


def _seen(
    framing: Framing, source_px: tuple[float, float], size: tuple[int, int]
) -> NDArray[np.bool_]:
    """Canonical pixels that lie inside the box as a whole, and not half under anything."""
    left, top, right, bottom = framing.box_px
    x = np.arange(size[0] + 1) * source_px[0] / size[0] * framing.scale_x + framing.left_px
    y = np.arange(size[1] + 1) * source_px[1] / size[1] * framing.scale_y + framing.top_px
    slack_x, slack_y = 0.5 * (x[1] - x[0]), 0.5 * (y[1] - y[0])
    columns = (x[:-1] >= left - slack_x) & (x[1:] <= right + slack_x)
    rows = (y[:-1] >= top - slack_y) & (y[1:] <= bottom + slack_y)
    seen: NDArray[np.bool_] = rows[:, None] & columns[None, :]
    for left, top, right, bottom in framing.hidden_px:
        under_x = (x[1:] - slack_x > left) & (x[:-1] + slack_x < right)
        under_y = (y[1:] - slack_y > top) & (y[:-1] + slack_y < bottom)
        seen[np.ix_(under_y, under_x)] = False
    return seen


def cells_of(
    pictures: NDArray[np.float32], seen: NDArray[np.bool_]
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Prints of canonical pictures [shape=(n, 32)], not rounded, and which cells can be seen.

    Each is the mean of what is seen of its cell; it does for the whole of it where little is
    missing, and where too few are that whole, where more is.
    """
    count, high, wide = pictures.shape
    share = seen.reshape(4, high // 4, 8, wide // 8).mean(axis=(1, 3))
    weighed = (pictures * seen).reshape(count, 4, high // 4, 8, wide // 8).mean(axis=(2, 4))
    cells = (weighed / np.maximum(share, 1e-3)).astype(np.float32).reshape(count, 32)
    whole: NDArray[np.bool_] = share.reshape(32) > WHOLE
    if whole.sum() < ENOUGH_CELLS:
        return cells, share.reshape(32) > IN_PART
    return cells, whole
