"""What a transparent render hides of the film that it is laid over, by where it is drawn.

An editor lays it over graded footage. Up to a fifth of the picture is then of no use for finding
the footage, and changes besides; which fifth, the render's layout tells.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from overlay.ledger import Layout, Pointer

Edges = tuple[float, float, float, float]
"""Left, top, right and bottom."""

AROUND = 0.006
"""What is drawn around a plate, or shines out of it when it is encoded, as a share of the picture's
short side."""

AROUND_MARKS = 0.028
"""A label or a mark stands on ground of its own that reaches further (that of the
launch faceplate's neatline; own choice)."""

MOST_HIDDEN = 0.35
"""Covers are taken as one as long as they hide no more of the picture than this together."""

GRID = (96, 54)
"""What covers hide is counted on so many points, across and down."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """The parts of a picture of one size that may be drawn on."""

    size_px: tuple[int, int]
    boxes_px: tuple[Edges, ...]


def cover_of(layout: Layout) -> Cover:
    """What a render hides at one time or another, a little generously."""
    short = min(layout.width_px, layout.height_px)
    near, far = AROUND * short, AROUND_MARKS * short
    plates = [field.plate_px for field in layout.fields]
    labels = [still.box_px for still in layout.stills]
    boxes = [_grown(x, y, x + wide, y + high, near) for x, y, wide, high in plates]
    boxes += [
        _grown(*edges, far)
        for edges in (
            *((x, y, x + wide, y + high) for x, y, wide, high in labels),
            *(_reached(pointer) for pointer in layout.pointers),
        )
        if not any(_within(edges, box) for box in boxes)
    ]
    return Cover(size_px=(layout.width_px, layout.height_px), boxes_px=tuple(boxes))


def _reached(pointer: Pointer) -> Edges:
    """The box around a pointer's path."""
    (x0, y0), (x1, y1) = pointer.ends_px
    by = max(abs(reach) for reach in pointer.reach_px)
    return min(x0, x1) - by, min(y0, y1) - by, max(x0, x1) + by, max(y0, y1) + by


def _grown(left: float, top: float, right: float, bottom: float, by: float) -> Edges:
    return left - by, top - by, right + by, bottom + by


def _within(edges: Edges, box: Edges) -> bool:
    return edges[0] >= box[0] and edges[1] >= box[1] and edges[2] <= box[2] and edges[3] <= box[3]


def hidden_by(covers: Sequence[Cover], room: Edges) -> tuple[tuple[Edges, ...], ...]:
    """What covers hide of a film where each is as large as a room of it allows, in its middle.

    Covers that hide much the same are taken as one, so that there are few to try; one that hides
    more than half of the room shows no footage, and is left out.
    """
    kept: list[tuple[set[Edges], float]] = []
    for cover in covers:
        boxes = set(_fitted(cover, room))
        if _share(boxes, room) > 0.5:
            continue
        for number, (others, _) in enumerate(kept):
            both = boxes | others
            share = _share(both, room)
            if share <= MOST_HIDDEN:
                kept[number] = both, share
                break
        else:
            kept.append((boxes, _share(boxes, room)))
    return tuple(tuple(sorted(boxes)) for boxes, _ in kept)


def _fitted(cover: Cover, room: Edges) -> list[Edges]:
    """A cover's boxes on the film, to a tenth of a pixel."""
    wide, high = room[2] - room[0], room[3] - room[1]
    scale = min(wide / cover.size_px[0], high / cover.size_px[1])
    left = (room[0] + room[2] - scale * cover.size_px[0]) / 2
    top = (room[1] + room[3] - scale * cover.size_px[1]) / 2
    return [
        (round(scale * x0 + left, 1), round(scale * y0 + top, 1),
         round(scale * x1 + left, 1), round(scale * y1 + top, 1))
        for x0, y0, x1, y1 in cover.boxes_px
    ]  # fmt: skip


def _share(boxes: set[Edges], room: Edges) -> float:
    """How much of a room boxes hide."""
    x = np.linspace(room[0], room[2], 2 * GRID[0] + 1)[1::2]
    y = np.linspace(room[1], room[3], 2 * GRID[1] + 1)[1::2]
    hidden = np.zeros((GRID[1], GRID[0]), bool)
    for left, top, right, bottom in boxes:
        hidden[np.ix_((y > top) & (y < bottom), (x > left) & (x < right))] = True
    return float(hidden.mean())
