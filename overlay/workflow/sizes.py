"""The size of a picture as a person writes it."""

from __future__ import annotations

import re

from overlay.errors import FaceplateError

_SIZE = re.compile(r"(\d{2,5})\s*[x×]\s*(\d{2,5})")


def size_of(text: str) -> tuple[int, int]:
    """Width and height of a picture, from a text such as `1920x1080`.

    Raises
    ------
    FaceplateError
        Where it means none.
    """
    found = _SIZE.fullmatch(text.strip().lower())
    if found is None or "0" in (found[1].lstrip("0") or "0", found[2].lstrip("0") or "0"):
        raise FaceplateError(
            f"{text!r} is not a size of a picture", advice="write width and height: 1920x1080"
        )
    return int(found[1]), int(found[2])
