"""Two readers of one film: on how much they agree."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from overlay.audit.reading import Readings

EXAMPLES = 3
"""So many differences are told."""


def two_readers(first: Readings, second: Readings) -> str:
    """How two readers fare on what both looked at, in a sentence.

    A text that one of them could not read is no agreement and no difference.
    """
    place = ["frame", "kind", "index"]
    both = first.texts.merge(second.texts, on=place, suffixes=("", "_other"))
    read = both["legible"] & both["legible_other"]
    same = read & (both["text"] == both["text_other"])
    apart = both[read & ~same]
    loose = int((both["legible"] != both["legible_other"]).sum())
    if not read.any():
        return f"{len(both)} texts were looked at by both readers, and none was read by both"
    told = (
        f"of {len(both)} texts that both readers looked at they read {int(same.sum())} alike, and "
        f"{loose} only one of them could read"
    )
    if apart.empty:
        return f"{told}; they differ on none"
    examples = ", ".join(
        f"{row.instrument} at {row.t_clip_s:.2f} s ({row.text!r} and {row.text_other!r})"
        for row in apart.head(EXAMPLES).itertuples()
    )
    return f"{told}; they differ on {len(apart)}: {examples}"
