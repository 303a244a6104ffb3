"""Shots that are one: where a cut was seen in the film that its source has as well."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from overlay.audit.edit.framing import Framing
from overlay.audit.edit.shot import Shot

SAME_PX = 1.5
"""Framings that put no edge further apart are one (the search's own accuracy)."""

SAME_SPEED = 1e-3


def joined(shots: Sequence[Shot]) -> tuple[Shot, ...]:
    """Shots in order, those that go on where the one before left off made one with it."""
    kept: list[Shot] = []
    for shot in shots:
        if kept and _goes_on(kept[-1], shot):
            kept[-1] = _as_one(kept[-1], shot)
        else:
            kept.append(shot)
    return tuple(kept)


def _goes_on(one: Shot, other: Shot) -> bool:
    if one.source is None or one.source != other.source or one.frames.stop != other.frames.start:
        return False
    here, there = one.source_frames, other.source_frames
    if here is None or there is None or one.speed is None or other.speed is None:
        return False
    if abs(one.speed - other.speed) > SAME_SPEED:
        return False
    step = (here[-1] - here[0]) / max(len(here) - 1, 1)
    return bool(abs(there[0] - here[-1] - step) <= 1.0) and _alike(one.framing, other.framing)


def _alike(one: Framing | None, other: Framing | None) -> bool:
    if one is None or other is None:
        return one is other
    wide, high = (one.box_px[2] / one.scale_x, one.box_px[3] / one.scale_y)
    return all(
        abs(
            (one.scale_x - other.scale_x) * x + one.left_px - other.left_px
        ) <= SAME_PX
        and abs((one.scale_y - other.scale_y) * y + one.top_px - other.top_px) <= SAME_PX
        for x, y in ((0.0, 0.0), (wide, high))
    )  # fmt: skip


def _as_one(one: Shot, other: Shot) -> Shot:
    assert one.source_frames is not None
    assert other.source_frames is not None
    source_frames = np.concatenate([one.source_frames, other.source_frames])
    source_frames.setflags(write=False)
    return replace(
        one,
        frames=range(one.frames.start, other.frames.stop),
        stop_s=other.stop_s,
        source_frames=source_frames,
        doubt_frames=max(one.doubt_frames or 0.0, other.doubt_frames or 0.0),
        also=tuple(name for name in one.also if name in other.also),
    )
