"""What was read, as tables: a row for each thing on each frame."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import chain
from typing import TYPE_CHECKING, Any

import numpy as np

from overlay.audit.reading.pointers import Place
from overlay.audit.reading.result import POINTER_COLUMNS, TEXT_COLUMNS
from overlay.audit.reading.spots import Spot
from overlay.audit.reading.texts import Text
from overlay.ledger import Pointer

if TYPE_CHECKING:
    from pandas import DataFrame

When = tuple[int, int, float]
"""Frame, time stamp and second."""


def texts_table(parts: Sequence[tuple[Spot, list[tuple[When, Text]]]]) -> DataFrame:
    """A row for each field and still on each frame."""
    counts = [len(found) for _, found in parts]
    whens, texts = _apart([found for _, found in parts])
    spots = [spot for spot, _ in parts]
    columns = _times(whens) | {
        "kind": _repeated([spot.kind for spot in spots], counts),
        "index": np.repeat(np.array([spot.index for spot in spots], np.int64), counts),
        "instrument": _repeated([spot.lettered.instrument for spot in spots], counts),
        "item": _repeated([spot.item for spot in spots], counts),
        "text": _objects([one.text for one in texts]),
        "confidence": np.array([one.confidence for one in texts], np.float64),
        "legible": np.array([one.legible for one in texts], bool),
    }
    order = np.lexsort((columns["index"], columns["kind"] == "still", columns["frame"]))
    return _frame(columns, order, TEXT_COLUMNS)


def pointers_table(
    parts: Sequence[tuple[int, Pointer, list[tuple[When, Place]]]],
) -> DataFrame:
    """A row for each pointer on each frame."""
    counts = [len(found) for _, _, found in parts]
    whens, places = _apart([found for _, _, found in parts])
    columns = _times(whens) | {
        "index": np.repeat(np.array([index for index, _, _ in parts], np.int64), counts),
        "instrument": _repeated([pointer.instrument for _, pointer, _ in parts], counts),
        "item": _repeated([pointer.item for _, pointer, _ in parts], counts),
        "value": np.array([one.value for one in places], np.float64),
        "sd": np.array([one.sd for one in places], np.float64),
        "legible": np.array([one.legible for one in places], bool),
    }
    order = np.lexsort((columns["index"], columns["frame"]))
    return _frame(columns, order, POINTER_COLUMNS)


def _apart(found: Sequence[list[tuple[When, Any]]]) -> tuple[list[When], list[Any]]:
    pairs = list(chain.from_iterable(found))
    return [when for when, _ in pairs], [one for _, one in pairs]


def _times(whens: Sequence[When]) -> dict[str, Any]:
    return {
        "frame": np.array([frame for frame, _, _ in whens], np.int64),
        "pts": np.array([pts for _, pts, _ in whens], np.int64),
        "t_clip_s": np.array([second for _, _, second in whens], np.float64),
    }


def _repeated(words: Sequence[str], counts: Sequence[int]) -> Any:
    return np.repeat(_objects(words), counts)


def _objects(words: Sequence[str]) -> Any:
    out = np.empty(len(words), object)
    out[:] = words
    return out


def _frame(columns: Mapping[str, Any], order: Any, names: Sequence[str]) -> DataFrame:
    import pandas as pd

    return pd.DataFrame({name: columns[name][order] for name in names}, columns=list(names))
