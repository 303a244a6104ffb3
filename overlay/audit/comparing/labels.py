"""Texts that stay: labels, units, numerals of scales, what flags and tabs say."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.comparing.compared import Compared, Frames
from overlay.audit.comparing.numbers import unread

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd

    from overlay.ledger import Still

    Same = Callable[[str], str]
    """A text with those letters made one that look the same in its font."""


def compare_still(
    still: Still, read: pd.DataFrame, frames: Frames, as_seen: Same, logs: str | None
) -> Compared:
    """One text on all frames that were looked at while it is to be seen.

    Parameters
    ----------
    logs
        What the sheet asks for in its place, a unit say; None where it does not say.
    """
    numbers = read["frame"].to_numpy(np.int64)
    at = frames.rows(numbers)
    legible = read["legible"].to_numpy(np.bool_)
    said = read["text"].to_numpy(object)
    count = numbers.size
    wanted = np.full(count, still.text, object)
    seen = said.copy()
    seen[~legible] = None
    differs = np.array(
        [ok and as_seen(t) != as_seen(still.text) for t, ok in zip(said, legible, strict=True)],
        np.bool_,
    )
    against = np.full(count, logs, object)
    other = np.full(count, logs is not None and still.text != logs)
    far = np.array(
        [
            ok and logs is not None and as_seen(t) != as_seen(logs)
            for t, ok in zip(said, legible, strict=True)
        ],
        np.bool_,
    )
    # A label that agrees reads as it is written, whichever of two like letters the reader named.
    seen[legible & ~differs] = still.text
    return Compared(
        sort="label",
        instrument=still.instrument,
        item=f"“{still.text}”",
        frames=numbers,
        t_film_s=frames.t_film_s[at],
        t_utc_s=frames.t_utc_s[at],
        read=seen,
        ledger=wanted,
        logs=against,
        wrong=np.stack([differs, other, far], axis=1) if count else np.zeros((0, 3), np.bool_),
        characters=np.full(count, len(still.text), np.int64),
        unread=unread(said, legible, wanted),
        boxes_px=np.tile(np.array(still.box_px, np.int64), (count, 1)),
    )
