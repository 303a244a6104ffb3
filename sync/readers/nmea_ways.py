"""Which sentence feeds which channel, and what of it is taken.

For each channel the table names the sentences in order of preference. One address is taken
for the whole log: the first of the order, unless a later one holds over a fifth more values.
So speed comes from RMC where both RMC and VTG are there, since RMC has a time of its own.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sync.arrays import Floats
from sync.readers.nmea_fields import (
    KNOT,
    Flags,
    degrees,
    gga_valid,
    gll_valid,
    knots_or_kmh,
    numbers,
    rmc_valid,
    signed,
    speed_of_vtg,
    where,
)
from sync.readers.nmea_lines import Sentences

Taken = Callable[[Sentences], Floats]


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One way to a channel: the kind of sentence, what is taken from it, and how it was had."""

    channel: str
    kind: str
    unit: str
    take: Taken
    means: str = "measured"


def _only(values: Floats, good: Flags) -> Floats:
    return np.where(good, values, np.nan)


def _angle(place: int) -> Taken:
    return lambda of: np.deg2rad(numbers(of.column(place)))


def _rmc(place: int, factor: float) -> Taken:
    return lambda of: _only(numbers(of.column(place)) * factor, rmc_valid(of))


def _course_of_vtg(of: Sentences) -> Floats:
    return _only(np.deg2rad(numbers(of.column(0))), ~where(of.column(8), "N"))


def _rmc_place(place: int, positive: str, negative: str) -> Taken:
    return lambda of: _only(
        degrees(of.column(place), of.column(place + 1), positive, negative), rmc_valid(of)
    )


def _gga_place(place: int, positive: str, negative: str) -> Taken:
    return lambda of: _only(
        degrees(of.column(place), of.column(place + 1), positive, negative), gga_valid(of)
    )


def _gll_place(place: int, positive: str, negative: str) -> Taken:
    return lambda of: _only(
        degrees(of.column(place), of.column(place + 1), positive, negative), gll_valid(of)
    )


def _altitude(of: Sentences) -> Floats:
    return _only(numbers(of.column(8)), gga_valid(of))


def _correction(of: Sentences, place: int) -> Floats:
    """A deviation or variation in degrees, east positive."""
    return signed(numbers(of.column(place)), of.column(place + 1), "E", "W")


def _hdg_magnetic(of: Sentences) -> Floats:
    """Compass reading plus deviation; a compass that states no deviation has none to state."""
    deviation = _correction(of, 1)
    empty = np.array([not text for text in of.column(1)], dtype=bool)
    return np.deg2rad(numbers(of.column(0)) + np.where(empty, 0.0, deviation))


def _hdg_true(of: Sentences) -> Floats:
    return _hdg_magnetic(of) + np.deg2rad(_correction(of, 3))


def _rate_of_turn(of: Sentences) -> Floats:
    """Degrees a minute, negative to port, to radians a second."""
    return _only(np.deg2rad(numbers(of.column(0))) / 60.0, where(of.column(1), "A"))


def _water_speed(of: Sentences) -> Floats:
    return knots_or_kmh(of, 4, 6)


def _transducer(*names: str) -> Taken:
    """The first angle in degrees of an XDR whose transducer has one of the names."""

    def take(of: Sentences) -> Floats:
        texts = []
        for row in of.rows():
            text = ""
            for place in range(0, len(row) - 3, 4):
                kind, value, unit, name = row[place : place + 4]
                if kind == "A" and unit == "D" and name.strip().upper() in names:
                    text = value
                    break
            texts.append(text)
        return np.deg2rad(numbers(texts))

    return take


FIELDS: tuple[Field, ...] = (
    Field(channel="speed", kind="RMC", unit="kn", take=_rmc(6, KNOT), means="doppler"),
    Field(channel="speed", kind="VTG", unit="kn", take=speed_of_vtg, means="doppler"),
    Field(channel="course", kind="RMC", unit="°", take=_rmc(7, np.pi / 180), means="doppler"),
    Field(channel="course", kind="VTG", unit="°", take=_course_of_vtg, means="doppler"),
    Field(channel="latitude", kind="RMC", unit="ddmm.m", take=_rmc_place(2, "N", "S")),
    Field(channel="latitude", kind="GGA", unit="ddmm.m", take=_gga_place(1, "N", "S")),
    Field(channel="latitude", kind="GLL", unit="ddmm.m", take=_gll_place(0, "N", "S")),
    Field(channel="longitude", kind="RMC", unit="dddmm.m", take=_rmc_place(4, "E", "W")),
    Field(channel="longitude", kind="GGA", unit="dddmm.m", take=_gga_place(3, "E", "W")),
    Field(channel="longitude", kind="GLL", unit="dddmm.m", take=_gll_place(2, "E", "W")),
    Field(channel="altitude", kind="GGA", unit="m", take=_altitude),
    Field(channel="heading", kind="HDT", unit="°", take=_angle(0)),
    Field(channel="heading", kind="HDG", unit="°", take=_hdg_true),
    Field(channel="heading", kind="VHW", unit="°", take=_angle(0)),
    Field(channel="magnetic_heading", kind="HDG", unit="°", take=_hdg_magnetic),
    Field(channel="magnetic_heading", kind="HDM", unit="°", take=_angle(0)),
    Field(channel="magnetic_heading", kind="VHW", unit="°", take=_angle(2)),
    Field(channel="turn_rate", kind="ROT", unit="°/min", take=_rate_of_turn),
    Field(channel="water_speed", kind="VHW", unit="kn", take=_water_speed),
    Field(channel="pitch", kind="XDR", unit="°", take=_transducer("PITCH", "PTCH")),
    Field(channel="roll", kind="XDR", unit="°", take=_transducer("ROLL", "HEEL")),
)
"""Every way to a channel, per channel in order of preference. Engine speed stands apart."""


def engine_speed(of: Sentences) -> Floats:
    """Revolutions a second; astern counts are taken as speeds too."""
    return _only(np.abs(numbers(of.column(2))) / 60.0, where(of.column(4), "A"))


def gives(entry: Sentences, channels: tuple[str, ...]) -> bool:
    """Whether the sentences of an address hold a value of one of some channels."""
    ways = (way for way in FIELDS if way.kind == entry.kind and way.channel in channels)
    return any(bool(np.isfinite(way.take(entry)).any()) for way in ways)
