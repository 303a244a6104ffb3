"""Marks on scales: where a needle stands, against the value that it ought to stand at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.comparing.compared import Compared, Flags, Floats, Frames, Texts

if TYPE_CHECKING:
    import pandas as pd

    from overlay.ledger import Pointer

OFF = 0.01
"""Share of its scale by which a mark may lie beside its value: half of what a viewer is said to
notice, and several times what a mark is drawn and found to."""

SURE = 4.0
"""So many standard deviations of the reading besides."""


def compare_pointer(
    place: Pointer,
    read: pd.DataFrame,
    frames: Frames,
    ledger: Floats,
    logs: Floats,
    *,
    why_unheld: str = "",
) -> Compared:
    """One mark on all frames that were looked at.

    Parameters
    ----------
    ledger, logs
        For each reading the value that either has, in the pointer's unit; NaN where there is
        none, and then no mark ought to stand there.
    """
    numbers = read["frame"].to_numpy(np.int64)
    at = frames.rows(numbers)
    visible = read["legible"].to_numpy(np.bool_)
    value = read["value"].to_numpy(np.float64)
    span = abs(place.high - place.low)
    room = OFF * span + SURE * np.nan_to_num(read["sd"].to_numpy(np.float64))
    ours, theirs = (_on_scale(place, row) for row in (ledger, logs))
    found = visible & np.isfinite(value)
    # What has come nowhere has nothing painted: a turn of no angle, a run that just begins.
    nothing = np.abs(ours - place.low) <= room
    gone = visible & ~np.isfinite(value) & np.isfinite(ours) & ~nothing
    wrong = np.stack(
        [
            gone | (found & _apart(value, ours, room)),
            np.isfinite(theirs) & _apart(ours, theirs, np.full(room.shape, 1e-6 * span)),
            np.isfinite(theirs) & (gone | (found & _apart(value, theirs, room))),
        ],
        axis=1,
    )
    left, top, width, height = _box(place)
    return Compared(
        sort="pointer",
        instrument=place.instrument,
        item=f"{place.item}, mark",
        frames=numbers,
        t_film_s=frames.t_film_s[at],
        t_utc_s=frames.t_utc_s[at],
        read=_read(place, value, found, visible),
        ledger=_texts(place, ours, np.isfinite(ours)),
        logs=_texts(place, theirs, np.isfinite(theirs)),
        wrong=wrong,
        # A mark counts as one character: what hides it is not agreed to.
        characters=np.ones(numbers.size, np.int64),
        unread=(~visible).astype(np.int64),
        boxes_px=np.tile(np.array([left, top, width, height], np.int64), (numbers.size, 1)),
        why_unheld=why_unheld,
    )


def _on_scale(place: Pointer, values: Floats) -> Floats:
    """What lies beyond an end of a scale is shown at that end."""
    low, high = sorted((place.low, place.high))
    clipped: Floats = np.clip(values, low, high)
    return clipped


def _apart(one: Floats, other: Floats, room: Floats) -> Flags:
    with np.errstate(invalid="ignore"):
        apart: Flags = (np.abs(one - other) > room) | (np.isfinite(one) != np.isfinite(other))
    return apart


def _read(place: Pointer, value: Floats, found: Flags, visible: Flags) -> Texts:
    """What stands on the scale; nothing where no mark does, None where it cannot be seen."""
    texts = _texts(place, value, found)
    texts[visible & ~found] = ""
    return texts


def _texts(place: Pointer, values: Floats, known: Flags) -> Texts:
    digits = max(0, 3 - int(np.floor(np.log10(abs(place.high - place.low)))))
    texts = np.full(values.size, None, object)
    texts[known] = [f"{value:.{digits}f} {place.unit}" for value in values[known]]
    return texts


def _box(place: Pointer) -> tuple[int, int, int, int]:
    """The rectangle around its path."""
    (x0, y0), (x1, y1) = place.ends_px
    reach = max(abs(edge) for edge in place.reach_px)
    left, top = min(x0, x1) - reach, min(y0, y1) - reach
    right, bottom = max(x0, x1) + reach, max(y0, y1) + reach
    return round(left), round(top), round(right - left), round(bottom - top)
