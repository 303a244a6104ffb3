"""The text of each picture: the best chain of letters, and which letters of it are sure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.reading.judge import LEAST_CONFIDENCE, judge
from overlay.audit.reading.letters import MOST_LEFT
from overlay.audit.reading.products import Floats
from overlay.audit.reading.result import UNREAD
from overlay.audit.reading.room import room, room_of_nothing
from overlay.audit.reading.rows import Chain, Row, pen_after
from overlay.audit.reading.search import search

if TYPE_CHECKING:
    from numpy.typing import NDArray

UNEVEN = 0.2
"""Ground may differ by so much, in shares of a text's contrast: footage through a plate comes to a
tenth."""

GAINS = (0.6, 1.6)
"""A text's contrast over what the layout's colours make it must lie between these."""


@dataclass(frozen=True, slots=True)
class Text:
    """What was read in one picture: a letter for each cell, how sure the least sure of them is,
    and how far another picture may differ (see `room`, squared coverage, summed up) that must
    then read the same."""

    text: str
    confidence: float
    room: float = 0.0

    @property
    def legible(self) -> bool:
        """Whether all of it was read."""
        return UNREAD not in self.text


def read_row(crops: Floats, row: Row) -> list[Text]:
    """The text in each picture.

    Parameters
    ----------
    crops : [shape=(n, rows, columns)]
        How far pixels are covered, up to a constant, with the contrast that the layout's colours
        have; where that does not lead to a text, the contrast is taken from the picture.
    """
    texts = _read(crops, row)
    again = [n for n, one in enumerate(texts) if not one.legible]
    if again:
        some = crops[again]
        flat = some.reshape(len(some), -1)
        reach = np.percentile(flat, 99.3, axis=1) - np.median(flat, axis=1)
        sound = (reach > 0.25) & (reach < 4.0)
        where = np.flatnonzero(sound)
        if len(where):
            scaled = (some[where] / reach[where, None, None]).astype(np.float32)
            for n, one in zip(where, _read(scaled, row), strict=True):
                if one.legible and one.text:
                    free = one.room * float(reach[n]) ** 2
                    texts[again[int(n)]] = replace(one, room=free)
    return texts


def _read(crops: Floats, row: Row) -> list[Text]:
    chains, well = search(crops, row)
    texts: list[Text | None] = [None] * len(crops)
    by_chain: dict[Chain, list[int]] = {}
    for picture, chain in enumerate(chains):
        by_chain.setdefault(chain, []).append(picture)
    for chain, pictures in by_chain.items():
        some = crops if len(pictures) == len(crops) else crops[pictures]
        for picture, text in zip(pictures, texts_of(some, row, chain, well[pictures]), strict=True):
            texts[picture] = text
    return [text for text in texts if text is not None]


def texts_of(crops: Floats, row: Row, chain: Chain, well: NDArray[np.bool_]) -> list[Text]:
    """The text that one chain gives in several pictures."""
    if not chain:
        free = room_of_nothing(row)
        return [Text("", 1.0, free) if fine else Text(UNREAD, 0.0) for fine in well]
    sure, left, gain = judge(crops, row, chain)
    rooms = room(row, chain, sure, left, gain)
    fits = (gain > GAINS[0]) & (gain < GAINS[1])
    if row.leftward:
        well = well & _level(crops, row, chain, gain)
    read = (sure >= LEAST_CONFIDENCE) & (left <= MOST_LEFT) & fits[:, None]
    letters = [row.alphabet.groups[group].letters[place] for group, place, _ in chain]
    beyond = _beyond(row, chain)
    texts = []
    for n in range(len(crops)):
        # What follows a still's end in the layout and is no letter belongs to something else.
        stop = len(chain) if _says(letters[beyond:], read[n, beyond:]) else beyond
        fine = bool(well[n]) or stop < len(chain)
        least, free = float(sure[n, :stop].min()), float(rooms[n, :stop].min())
        texts.append(_text(letters[:stop], row, read[n, :stop], fine, least, free))
    return texts


def _says(letters: Sequence[str], read: NDArray[np.bool_]) -> bool:
    """Whether any letter but a blank was read."""
    return any(fine and letter != " " for letter, fine in zip(letters, read, strict=True))


def _beyond(row: Row, chain: Chain) -> int:
    """The first letter of a chain that lies behind where the layout has the text's end; the blank
    before it is one of them."""
    if row.ends_at is None:
        return len(chain)
    count = sum(low < row.ends_at for _, _, low in chain)
    blank = row.alphabet.places.get(" ")
    while count > 1 and count < len(chain) and chain[count - 1][:2] == blank:
        count -= 1
    return max(count, 1)


def _level(crops: Floats, row: Row, chain: Chain, gain: Floats) -> NDArray[np.bool_]:
    """Whether the ground before a number is that behind its letters: a patch is as blank."""
    low, high = row.cell(pen_after(chain, row), row.clear_px)
    before = crops[:, :, max(low, 0) : max(high, 0)]
    if not before.size:
        return np.ones(len(crops), bool)
    groups = row.alphabet.groups
    behind = []
    for group, place, left in chain:
        cells = crops[:, :, left : left + groups[group].advance_px]
        behind.append(cells.mean(axis=(1, 2)) - gain * float(groups[group].cells[place].mean()))
    ground = np.mean(behind, axis=0)
    level = np.percentile(before.mean(axis=1), 25, axis=1)
    even: NDArray[np.bool_] = np.abs(level - ground) <= UNEVEN * gain
    return even


def _text(
    letters: Sequence[str],
    row: Row,
    read: NDArray[np.bool_],
    well: bool,
    sure: float,
    free: float,
) -> Text:
    shown = [letter if fine else UNREAD for letter, fine in zip(letters, read, strict=True)]
    if not well:
        shown.append(UNREAD)
    text = "".join(reversed(shown) if row.leftward else shown)
    return Text(text, sure if well else 0.0, free if UNREAD not in text else 0.0)
