"""Numbers that change: what is read, what the ledger has, and what the logs support."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.comparing.compared import Compared, Frames, Texts

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from overlay.ledger import Field

BOX = ("x_px", "y_px", "width_px", "height_px")
NOTHING = ""
"""What stands in a field in which nothing is written."""

LASTING = 5
"""On so many looks one after the other, what stands before a number is no work of an encoder."""


def compare_field(
    field: Field,
    read: pd.DataFrame,
    rows: pd.DataFrame,
    frames: Frames,
    logs: Sequence[tuple[str, ...] | None],
    *,
    why_unheld: str = "",
) -> Compared:
    """One field on all frames that were looked at.

    Parameters
    ----------
    read
        The readings of this field, in order, while it is to be seen.
    rows
        The ledger's rows of its instrument and item.
    logs
        For each reading the texts that the logs support: more than one where a value lies
        between two, none where they cannot say.
    """
    numbers = read["frame"].to_numpy(np.int64)
    at = frames.rows(numbers)
    by_frame = rows.drop_duplicates("frame").set_index("frame")
    near = [_written(by_frame, shown) for shown in frames.near(at)]
    ledger = near[0]
    said = read["text"].to_numpy(object)
    legible = read["legible"].to_numpy(np.bool_)
    if not frames.slack:  # else an editor may have laid something there
        legible = legible | _more_than(ledger, said, legible)
    seen = _texts([text if sure else None for text, sure in zip(said, legible, strict=True)])
    boxes = by_frame.reindex(frames.ledger_frame[at])[list(BOX)].to_numpy(np.float64)
    boxes = np.where(np.isfinite(boxes), boxes, np.array(_box(field), np.float64))
    wrong = np.array(
        [
            (
                picture is not None and picture not in texts,
                allowed is not None and texts[0] not in allowed,
                picture is not None and allowed is not None and picture not in allowed,
            )
            for picture, texts, allowed in zip(seen, zip(*near, strict=True), logs, strict=True)
        ],
        np.bool_,
    ).reshape(-1, 3)
    return Compared(
        sort="number",
        instrument=field.instrument,
        item=field.item,
        frames=numbers,
        t_film_s=frames.t_film_s[at],
        t_utc_s=frames.t_utc_s[at],
        read=seen,
        ledger=ledger,
        logs=_texts([_likelier(text, allowed) for text, allowed in zip(ledger, logs, strict=True)]),
        wrong=wrong,
        characters=np.array([max(len(text), 1) for text in ledger], np.int64),
        unread=unread(said, legible, ledger),
        boxes_px=boxes.astype(np.int64),
        why_unheld=why_unheld,
    )


def _more_than(wanted: Texts, said: Texts, legible: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Where for some time the whole of a number is read, and before it something that cannot be
    told: half a sign is a sign, though nobody can say which."""
    more = ~legible & np.array(
        [bool(text) and one == f"?{text}" for one, text in zip(said, wanted, strict=True)], np.bool_
    )
    edges = np.flatnonzero(np.diff(np.concatenate([[False], more, [False]]).astype(np.int8)))
    for start, stop in edges.reshape(-1, 2):
        if stop - start < LASTING:
            more[start:stop] = False
    return more


def _written(by_frame: pd.DataFrame, shown: NDArray[np.int64]) -> Texts:
    """What the ledger has on some frames of the render."""
    texts = by_frame["text"].reindex(shown)
    return _texts([one if isinstance(one, str) else NOTHING for one in texts])


def unread(said: Texts, legible: NDArray[np.bool_], wanted: Texts) -> NDArray[np.int64]:
    """How many characters of each text could not be told: those that the reader marks, or as many
    as there ought to be where it found no text at all."""
    marked = np.array([text.count("?") for text in said], np.int64)
    whole = np.array([max(len(text), 1) for text in wanted], np.int64)
    return np.where(legible, 0, np.where(marked > 0, np.minimum(marked, whole), whole))


def _likelier(ledger: str, allowed: tuple[str, ...] | None) -> str | None:
    """Of two neighbours the one that the ledger has."""
    if not allowed:
        return None
    return ledger if ledger in allowed else allowed[0]


def _texts(row: list[str | None]) -> Texts:
    texts = np.empty(len(row), object)
    texts[:] = row
    return texts


def _box(field: Field) -> tuple[int, int, int, int]:
    """Where a number would stand."""
    left = field.plate_px[0]
    height = field.size_px
    return left, field.baseline_px - height, field.right_px - left, height
