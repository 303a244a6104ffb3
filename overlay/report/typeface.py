"""The theme's font inside a page: only the letters that the page has, so that it stays small."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterable
from pathlib import Path


def embedded(path: Path, letters: Iterable[str]) -> str:
    """A font file's part for some letters, as a `data:` address in the WOFF format.

    The same letters give the same bytes: the font keeps its own date.
    """
    from fontTools import subset  # type: ignore[import-untyped] # has no types of its own

    options = subset.Options(
        flavor="woff", layout_features=["kern", "tnum", "lnum"], hinting=False, notdef_outline=True,
        recalc_timestamp=False,
    )  # fmt: skip
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=sorted({ord(letter) for letter in letters}))
    out = io.BytesIO()
    with subset.load_font(str(path), options) as font:
        cutter.subset(font)
        subset.save_font(font, out, options)
    return f"data:font/woff;base64,{base64.b64encode(out.getvalue()).decode('ascii')}"
