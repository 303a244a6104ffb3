"""Which lines of an NMEA 0183 log are sound sentences beyond doubt, told for all lines at once.

A plain sentence stands at the end of its line, alone, in printable ASCII: a dollar sign, five
capitals or figures, fields, and a checksum that holds. All that anybody would say of such a
line is known from where its signs stand, so hundreds of thousands are judged in a tenth of a
second (measured, see tests/bench/load_nmea.py). Every other line is odd, and is left to a
parser that takes one at a time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Places = NDArray[np.int64]
Bytes = NDArray[np.uint8]

MOST_CHARACTERS = 1000
"""A longer sentence is none. The standard allows 82 characters (gpsd, www/NMEA.adoc), and what
devices send beyond that are some hundred."""

ADDRESS = 5
"""Characters of an address: two of the talker and three of the kind."""

_LEAST_CHARACTERS = 10
"""A dollar sign, an address, a comma and a checksum, with nothing in between."""

_LF, _CR, _DOLLAR, _STAR, _COMMA = b"\n\r$*,"


def _table(letters: bytes, values: bytes, rest: int) -> Bytes:
    table = np.full(256, rest, dtype=np.uint8)
    table[list(letters)] = list(values)
    return table


_NO_HEX = 255
_HEX = _table(b"0123456789ABCDEFabcdef", bytes([*range(16), *range(10, 16)]), _NO_HEX)
_IN_ADDRESS = _table(b"ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789", bytes([1] * 36), 0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outline:
    """Where the lines of a log and the plain sentences in them stand.

    Parameters
    ----------
    raw : [shape=(bytes,)]
        The log.
    starts, ends : [shape=(lines,)]
        First character of every line, and the one behind its last; the line's end left out.
    plain : [shape=(n,)]
        Which lines end in a plain sentence.
    at : [shape=(n,)]
        Where its dollar sign stands.
    """

    raw: Bytes
    starts: Places
    ends: Places
    plain: Places
    at: Places

    @property
    def first(self) -> Places:
        """First character of the fields of every plain sentence."""
        return self.at + ADDRESS + 2

    @property
    def stop(self) -> Places:
        """Where the checksum of every plain sentence begins."""
        return self.ends[self.plain] - 3

    def addresses(self) -> tuple[list[str], Places]:
        """The addresses that there are, and for every plain sentence the place of its own."""
        letters = self.raw[self.at[:, None] + np.arange(1, ADDRESS + 1)]
        texts = np.ascontiguousarray(letters).view(f"S{ADDRESS}").ravel()
        names, which = np.unique(texts, return_inverse=True)
        return [name.decode("ascii") for name in names.tolist()], which.astype(np.int64)

    def odd(self) -> Places:
        """Lines that hold anything and are not plain."""
        rest = self.ends > self.starts
        rest[self.plain] = False
        return np.flatnonzero(rest)


def outline(data: bytes) -> Outline:
    """Find the lines of a log and the plain sentences in them."""
    raw = np.frombuffer(data, dtype=np.uint8)
    starts, ends = _lines(raw)
    plain, at = _candidates(raw, starts, ends)
    good = _in_ascii(raw, at, ends[plain]) & _addressed(raw, at)
    plain, at = plain[good], at[good]
    good = _checked(raw, at, ends[plain])
    plain, at = plain[good], at[good]
    return Outline(raw=raw, starts=starts, ends=ends, plain=plain, at=at)


def _lines(raw: Bytes) -> tuple[Places, Places]:
    feeds = np.flatnonzero(raw == _LF)
    starts = np.append(0, feeds + 1)
    ends = np.append(feeds, raw.size)
    if starts[-1] == raw.size:
        starts, ends = starts[:-1], ends[:-1]
    returns = (ends > starts) & (raw[np.maximum(ends - 1, 0)] == _CR) if raw.size else False
    return starts, ends - returns


def _candidates(raw: Bytes, starts: Places, ends: Places) -> tuple[Places, Places]:
    """Lines with one dollar sign and behind it as many characters as a sentence may have."""
    dollars = np.flatnonzero(raw == _DOLLAR)
    after = np.searchsorted(dollars, ends)
    lines = np.flatnonzero(after - np.searchsorted(dollars, starts) == 1)
    at = dollars[after[lines] - 1]
    length = ends[lines] - at
    fits = (length >= _LEAST_CHARACTERS) & (length <= MOST_CHARACTERS)
    return lines[fits], at[fits]


def _none_between(places: Places, at: Places, ends: Places) -> NDArray[np.bool_]:
    return np.asarray(np.searchsorted(places, at) == np.searchsorted(places, ends))


def _in_ascii(raw: Bytes, at: Places, ends: Places) -> NDArray[np.bool_]:
    return _none_between(np.flatnonzero((raw < 0x20) | (raw > 0x7E)), at, ends)


def _addressed(raw: Bytes, at: Places) -> NDArray[np.bool_]:
    """An address and a comma, and neither a maker's sentence nor a query."""
    good = raw[at + ADDRESS + 1] == _COMMA
    for place in range(1, ADDRESS + 1):
        good &= _IN_ADDRESS[raw[at + place]] == 1
    return np.asarray(good & (raw[at + 1] != ord("P")) & (raw[at + ADDRESS] != ord("Q")))


def _checked(raw: Bytes, at: Places, ends: Places) -> NDArray[np.bool_]:
    """One star, two hexadecimal figures behind it, and they are the XOR of what stands before."""
    good = raw[ends - 3] == _STAR
    good &= _none_between(np.flatnonzero(raw == _STAR), at, ends - 3)
    high, low = _HEX[raw[ends - 2]], _HEX[raw[ends - 1]]
    good &= (high != _NO_HEX) & (low != _NO_HEX)
    running = np.bitwise_xor.accumulate(raw) if raw.size else raw
    return np.asarray(good & (running[ends - 4] ^ running[at] == (high << 4 | low)))
