"""Values out of the bytes of many messages at once, by the tables of `can_signals`.

NMEA 2000 keeps the highest value of a field for "not available" and the next lower for an
error; J1939 everything with a highest byte above 0xFA (from memory of SAE J1939-71). Both are
no value. Some gateways fill signed fields with ones as if they were unsigned, which reads as
one step below nought: no value either, where the channel cannot be negative or the field is
of one byte, whose step is too coarse for a value so near to nought to be missed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.channel_kinds import CHANNELS
from sync.readers.can_bus import Bytes, Integers
from sync.readers.can_signals import J1939, Only, Signal

if TYPE_CHECKING:
    from numpy.typing import NDArray

J1939_HIGHEST = 0xFA
"""Highest value that the top byte of a parameter may have."""

_J1939_GROUPS = frozenset(signal.group for signal in J1939)


def meets(table: Bytes, only: tuple[Only, ...]) -> NDArray[np.bool_]:
    """Which messages meet all conditions."""
    good = np.ones(len(table), dtype=bool)
    for one in only:
        bits = (table[:, one.byte].astype(np.int64) >> one.low_bit) & ((1 << one.bits) - 1)
        good &= np.isin(bits, one.among)
    return good


def values_of(signal: Signal, table: Bytes, size: Integers) -> Floats:
    """The values of a signal in SI, NaN where there is none.

    Parameters
    ----------
    table : [shape=(n, width)]
        The messages, filled up with 0xFF.
    size : [shape=(n,)]
        How many bytes each really has.
    """
    raw = _raw(signal, table)
    given = size >= signal.byte + signal.size
    if signal.codes is not None:
        code = raw & ((1 << signal.code_bits) - 1)
        known = np.array([signal.codes.get(c, np.nan) for c in range(1 << signal.code_bits)])
        return np.where(given, known[code], np.nan)
    given &= _available(signal, raw)
    return np.where(given, raw * signal.scale + signal.zero, np.nan)


def _raw(signal: Signal, table: Bytes) -> Integers:
    part = table[:, signal.byte : signal.byte + signal.size].astype(np.uint64)
    shifts = np.arange(signal.size, dtype=np.uint64) * np.uint64(8)
    raw: Integers = np.bitwise_or.reduce(part << shifts, axis=1).astype(np.int64)
    if signal.signed and signal.size < 8:
        bits = 8 * signal.size
        raw = np.where(raw >= 1 << (bits - 1), raw - (1 << bits), raw)
    return raw


def _available(signal: Signal, raw: Integers) -> NDArray[np.bool_]:
    bits = 8 * signal.size
    if signal.group in _J1939_GROUPS:
        return (raw >> (bits - 8)) <= J1939_HIGHEST
    if not signal.signed:
        return raw < (1 << bits) - 2
    good = raw < (1 << (bits - 1)) - 2
    if CHANNELS[signal.channel].low >= 0 or signal.size == 1:
        good &= raw != -1
    return good
