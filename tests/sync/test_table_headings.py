"""Headings of tables: every channel has some, and one that is unclear is told and not taken."""

from __future__ import annotations

import pytest

from sync.channel_kinds import CHANNELS
from sync.errors import UnitError
from sync.readers.table_headings import read_headings
from sync.readers.table_names import AMBIGUOUS, CHANNEL_NAMES, IMPLIED_UNITS, NAME_OF
from sync.units import signs


@pytest.mark.parametrize("channel", sorted(CHANNELS))
def test_every_channel_has_headings_with_their_unit(channel: str) -> None:
    for name in (*CHANNEL_NAMES[channel], channel):
        for unit in signs(CHANNELS[channel].quantity):
            heading = name if name in IMPLIED_UNITS else f"{name.title()} ({unit})"
            (column,) = read_headings([heading], {})
            assert column.channel == channel, heading


def test_no_name_stands_for_two_channels() -> None:
    assert len(NAME_OF) == sum(map(len, CHANNEL_NAMES.values()))
    assert not NAME_OF.keys() & AMBIGUOUS.keys()
    assert {key for keys in AMBIGUOUS.values() for key in keys} <= CHANNELS.keys()


@pytest.mark.parametrize(
    ("heading", "key"),
    [
        ("Oil pressure starboard (kPa)", "oil_pressure.1"),
        ("oil_temp_2 (degC)", "oil_temperature.1"),
        ("voltage (V) stbd", "voltage.1"),
        ("coolant_temp_c", "engine_temperature"),
        ("air_pressure_hpa", "air_pressure"),
        ("Sound level (dB(A))", "sound_level"),
        ("sound_level_dba", "sound_level"),
        ("LAF [dB(A)]", "sound_level"),
        ("LAeq", "sound_level"),
    ],
)
def test_headings_as_loggers_write_them(heading: str, key: str) -> None:
    (column,) = read_headings([heading], {})
    assert column.key == key


@pytest.mark.parametrize(
    ("heading", "named"),
    [
        ("Temperature (degC)", "engine_temperature or water_temperature or air_temperature"),
        ("pressure_kpa", "oil_pressure or fuel_pressure or air_pressure"),
        ("Wind speed (kn)", "apparent_wind_speed or true_wind_speed"),
        ("fuel", "fuel_flow or fuel_level or trip_fuel"),
    ],
)
def test_a_heading_that_could_be_several_is_not_taken_and_names_them(
    heading: str, named: str
) -> None:
    (column,) = read_headings([heading], {})
    assert column.role == ""
    assert named in column.note


def test_a_heading_near_a_known_one_names_it() -> None:
    (column,) = read_headings(["Oil presure (bar)"], {})
    assert column.role == ""
    assert "'oil pressure'" in column.note
    assert "oil_pressure" in column.note
    (far,) = read_headings(["cabin lights"], {})
    assert far.note == ""


@pytest.mark.parametrize("heading", ["Sound level (dB)", "sound_level_db", "Noise level (dB(C))"])
def test_a_level_that_is_not_a_weighted_is_no_level(heading: str) -> None:
    """Decibels of a microphone without weighting are not those of a meter."""
    with pytest.raises(UnitError, match="level"):
        read_headings([heading], {})
