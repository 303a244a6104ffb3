"""Single messages off a bus and what they say.

Unless a row says otherwise, bytes and values are from canboat's and canboatjs's test suites
and samples at the commits named in the notes of this project's check values (canboat
01d0dc3dd243, canboatjs c584d7038aa2), converted to SI.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from bus_text import candump, plain, read, value

from sync.errors import EmptyLogError
from sync.units import to_si

LITRE_AN_HOUR = 1e-3 / 3600
DEG = np.pi / 180

GOLDEN = {
    "susteranna: port engine, 804.5 rpm": (
        127488, "00 92 0c ff ff 7f ff ff", {"engine_speed": 804.5 / 60},
    ),
    "an engine with boost and trim": (
        127488, "00 0d 14 3c 00 00 00 00",
        {"engine_speed": 1283.25 / 60, "boost_pressure": 6000.0, "trim": 0.0},
    ),
    "a starboard engine at rest is at nought, not without a value": (
        127488, "01 00 00 ff ff 7f ff ff", {"engine_speed.1": 0.0},
    ),
    "an engine's slow values, with no fuel rate": (
        127489, "00 2f06 ffff e373 6605 ff7f 58020000 ffff ffff ff 0600 0000 7f 7f",
        {
            "oil_pressure": 158300.0, "engine_temperature": 296.67, "voltage": 13.82,
            "engine_hours": 600.0,
        },
    ),
    "an engine's slow values, made up": (
        127489, "00 2f06 1020 e373 6505 6504 72100000 1020 3040 ff 0600 ff00 30 18",
        {
            "oil_pressure": 158300.0, "oil_temperature": 547.7 + 273.1, "voltage": 13.81,
            "engine_temperature": 296.67, "fuel_flow": 112.5 * LITRE_AN_HOUR,
            "engine_hours": 4210.0, "coolant_pressure": 820800.0, "fuel_pressure": 16432000.0,
            "engine_load": 0.48, "engine_torque": 0.24,
        },
    ),
    "fuel since reset": (127497, "e0 09 00 e6 86 ff 7f ff ff", {"trip_fuel.224": 0.009}),
    "a position": (
        129025, "82 9f 49 17 43 83 6c d2", {"latitude": 39.070093, "longitude": -76.4640445},
    ),
    "course and speed over ground": (
        129026, "ff fc e1 51 f6 00 ff ff", {"course": 2.0961, "speed": 2.46},
    ),
    "a magnetic heading": (127250, "ff 18 60 ff 7f ff 7f fd", {"magnetic_heading": 2.46}),
    "attitude": (127257, "ff 18 60 2f 01 01 00 ff", {"pitch": 0.0303, "roll": 0.0001}),
    "magnetic variation": (127258, "ff f7 34 40 5d f8 ff ff", {"variation": -0.1955}),
    "speed through water at nought": (128259, "14 00 00 ff ff 00 ff ff", {"water_speed": 0.0}),
    "rate of turn": (127251, "ff 51 bf ff ff ff ff ff", {"turn_rate": -0.029649 * DEG}),
    "fuel level": (127505, "00 f2 36 ea 01 00 00 ff", {"fuel_level": 0.56264}),
    "rudder": (127245, "fc fc eb ff e3 ff ff ff", {"rudder": -0.0029}),
    "engine room": (130312, "8e 00 03 b3 6a ff ff ff", {"engine_room_temperature": 273.15}),
    "outside, in three bytes": (130316, "ff 65 01 32 4c 04 ff ff", {"air_temperature": 281.65}),
    "a sea that is warm": (130316, "ff 00 00 44 8a 04 ff ff", {"water_temperature": 297.54}),
    "J1939 EEC1, idle": (
        61444, "FF FF FF 8A 03 FF FF FF", {"engine_speed": 113.25 / 60},
    ),
    "J1939 EEC1, the most of the log": (
        61444, "FF FF FF 3D 44 FF FF FF", {"engine_speed": 2183.625 / 60},
    ),
    "J1939 EEC1, 1800 rpm": (61444, "FF FF FF 40 38 FF FF FF", {"engine_speed": 30.0}),
    "J1939 EEC1, a torque offset by 125 %": (
        61444, "FF FF 7D 40 38 FF FF FF", {"engine_speed": 30.0, "engine_torque": 0.0},
    ),
    "J1939 LFE, 5 L/h": (65266, "64 00 FF FF FF FF FF FF", {"fuel_flow": 5 * LITRE_AN_HOUR}),
    "J1939 LFE, 60 L/h": (65266, "B0 04 FF FF FF FF FF FF", {"fuel_flow": 60 * LITRE_AN_HOUR}),
    "J1939 LFE, no flow but a throttle": (
        65266, "FF FF FF FF FF FF 11 FF", {"throttle": 0.068},
    ),
    "J1939 HOURS (scale read, bytes of our own)": (
        65253, "40 E2 01 00 FF FF FF FF", {"engine_hours": 123456 * 180.0},
    ),
    "J1939 ET1, 22 °C": (65262, "3E FF FF FF FF FF FF FF", {"engine_temperature": 295.15}),
    "J1939 AMB, 1.015 bar": (65269, "CB FF FF FF FF FF FF FF", {"air_pressure": 101500.0}),
    "J1939 VEP1, 10.70 V": (65271, "FF FF FF FF D6 00 FF FF", {"voltage": 10.70}),
}  # fmt: skip


@pytest.mark.parametrize("name", GOLDEN)
def test_a_message_says_what_other_decoders_read_in_it(name: str, tmp_path: Path) -> None:
    group, text, wanted = GOLDEN[name]
    log = read(tmp_path, plain(group, text))
    assert log.channels.keys() == wanted.keys()
    for key, number in wanted.items():
        rel = 2e-5 if key == "turn_rate" else 1e-6  # printed there to a millionth of a degree
        assert value(log, key) == pytest.approx(number, rel=rel, abs=1e-9), key


def test_one_engine_speed_is_8_counts_a_revolution_in_j1939_and_4_in_nmea(tmp_path: Path) -> None:
    """5800 rpm is 0xB540 there and 0x5AA0 here (counts by arithmetic)."""
    j1939 = read(tmp_path, plain(61444, "FF FF FF 40 B5 FF FF FF"))
    assert value(j1939, "engine_speed") == pytest.approx(5800 / 60, abs=1e-9)
    nmea = read(tmp_path, plain(127488, "00 A0 5A ff ff 7f ff ff"))
    assert value(nmea, "engine_speed") == pytest.approx(5800 / 60, abs=1e-9)


NULL = {
    "a position of error codes": (129025, "fe ff ff 7f fe ff ff 7f"),
    "a position of not available": (129025, "ff ff ff 7f ff ff ff 7f"),
    "a speed that is not available": (129026, "ff fc ff ff ff ff ff ff"),
    "a speed that is in error": (129026, "ff fc fe ff fe ff ff ff"),
    "an engine speed of ones": (127488, "00 ff ff ff ff 7f ff ff"),
    "an attitude of nothing": (127257, "ff ff 7f ff 7f ff 7f ff"),
    "an unset J1939 rate": (65266, "FF FF FF FF FF FF FF FF"),
    "a J1939 error": (65266, "00 FE FF FF FF FF FE FF"),
    "a heading that refers to nothing known": (127250, "ff 18 60 ff 7f ff 7f ff"),
    "fresh water is no fuel": (127505, "10 f2 36 ea 01 00 00 ff"),
    "a message of no bytes at all": (127488, ""),
    "a message cut short by its sender": (127488, "00 92"),
}


@pytest.mark.parametrize("name", NULL)
def test_what_is_not_available_or_an_error_is_no_value(name: str, tmp_path: Path) -> None:
    group, text = NULL[name]
    with pytest.raises(EmptyLogError, match="no message of the log gives a value"):
        read(tmp_path, plain(group, text))


def test_fields_of_ones_in_place_of_not_available_are_no_value(tmp_path: Path) -> None:
    """A log in canboat's samples (dirona) has a fuel rate of 0xFFFF and a load of 0xFF."""
    text = "00 2f06 ffff e373 6605 ffff 58020000 ffff ffff ff 0600 0000 ff ff"
    log = read(tmp_path, plain(127489, text))
    assert not log.channels.keys() & {"fuel_flow", "engine_load", "engine_torque"}
    assert value(log, "engine_temperature") == pytest.approx(296.67)
    assert "spikes:fuel_flow" not in log.counts


def test_a_flow_that_is_nought_is_a_value(tmp_path: Path) -> None:
    text = "00 2f06 ffff e373 6605 0000 58020000 ffff ffff ff 0600 0000 7f 7f"
    assert value(read(tmp_path, plain(127489, text)), "fuel_flow") == 0.0


def test_a_step_below_nought_is_a_value_where_the_channel_can_be_negative(tmp_path: Path) -> None:
    log = read(tmp_path, plain(127257, "ff ff 7f ff ff ff 7f ff"))
    assert value(log, "pitch") == pytest.approx(-1e-4)


def test_values_that_are_not_there_are_counted_and_leave_holes(tmp_path: Path) -> None:
    lines = [
        plain(129026, "ff fc e1 51 f6 00 ff ff", at_s=0.0),
        plain(129026, "ff fc e1 51 ff ff ff ff", at_s=0.5),
        plain(129026, "ff fc e1 51 f6 00 ff ff", at_s=1.0),
    ]
    log = read(tmp_path, *lines)
    np.testing.assert_allclose(log.channels["speed"].values, [2.46, np.nan, 2.46])
    assert log.counts["not_available:speed"] == 1


def test_an_impossible_value_is_a_spike_and_told(tmp_path: Path) -> None:
    """No water that a boat floats in is at 370 K."""
    lines = [
        plain(130312, "00 00 00 b3 6a ff ff ff"),
        plain(130312, "00 00 00 88 90 ff ff ff", at_s=1.0),
    ]
    log = read(tmp_path, *lines)
    np.testing.assert_allclose(log.channels["water_temperature"].values, [273.15, np.nan])
    assert log.counts["spikes:water_temperature"] == 1
    assert "1 value of water_temperature" in log.warnings[0]


def test_two_engines_are_two_channels(tmp_path: Path) -> None:
    lines = [
        plain(127488, "00 92 0c ff ff 7f ff ff", source=131),
        plain(127488, "01 0d 14 ff ff 7f ff ff", source=132),
    ]
    log = read(tmp_path, *lines)
    assert value(log, "engine_speed") == pytest.approx(804.5 / 60)
    assert value(log, "engine_speed.1") == pytest.approx(1283.25 / 60)
    assert log.channels["engine_speed.1"].instance == 1


def test_two_engines_from_one_gateway_at_one_time_are_both_kept(tmp_path: Path) -> None:
    lines = [
        plain(127488, f"0{engine} 92 0c ff ff 7f ff ff", at_s=i / 10)
        for i in range(5)
        for engine in (0, 1)
    ]
    log = read(tmp_path, *lines)
    assert log.channels["engine_speed"].values.size == 5
    assert log.channels["engine_speed.1"].values.size == 5
    assert "repeated" not in log.counts


def test_two_engines_of_j1939_are_told_apart_by_their_addresses(tmp_path: Path) -> None:
    """Addresses 0 and 1 are engines 1 and 2 (from memory of SAE J1939-81)."""
    lines = [
        candump(0x0CF00401, "FF FF FF 3D 44 FF FF FF"),
        candump(0x0CF00400, "FF FF FF 40 38 FF FF FF"),
        candump(0x18FEF201, "64 00 FF FF FF FF FF FF"),
    ]
    log = read(tmp_path, *lines)
    assert value(log, "engine_speed") == pytest.approx(30.0)
    assert value(log, "engine_speed.1") == pytest.approx(2183.625 / 60)
    assert value(log, "fuel_flow.1") == pytest.approx(to_si(5.0, "L/h"))


def test_two_gateways_that_both_say_engine_0_are_told_of(tmp_path: Path) -> None:
    lines = [
        plain(127488, "00 92 0c ff ff 7f ff ff", source=16),
        plain(127488, "00 0d 14 ff ff 7f ff ff", source=17),
    ]
    log = read(tmp_path, *lines)
    assert value(log, "engine_speed") == pytest.approx(804.5 / 60)
    (warning,) = log.warnings
    assert "16 and 17 both send engine speed as engine 0" in warning


def test_true_and_magnetic_are_kept_apart(tmp_path: Path) -> None:
    log = read(tmp_path, plain(127250, "ff 18 60 ff 7f ff 7f fc"))
    assert log.channels.keys() == {"heading"}
    log = read(tmp_path, plain(129026, "ff fd e1 51 f6 00 ff ff"))
    assert log.channels.keys() == {"speed"}


def test_wind_is_sorted_by_what_it_refers_to(tmp_path: Path) -> None:
    """References: 0 ground and north, 2 apparent, 3 ground and bow (canboat's database)."""
    lines = [plain(130306, f"2c 0f 01 64 75 f{8 | ref:x} ff ff", at_s=ref) for ref in (0, 2, 3)]
    log = read(tmp_path, *lines)
    for key in ("apparent_wind_speed", "true_wind_speed"):
        assert value(log, key) == pytest.approx(2.71)
    for key in ("apparent_wind_angle", "true_wind_angle", "wind_from"):
        assert value(log, key) == pytest.approx(3.0052)


def test_gears_are_ahead_neutral_and_astern(tmp_path: Path) -> None:
    log = read(
        tmp_path,
        *(plain(127493, f"00 {0xFC | code:02x} ff ff ff ff 00 ff", at_s=code) for code in range(4)),
    )
    np.testing.assert_array_equal(log.channels["gear"].values, [1.0, 0.0, -1.0, np.nan])


def test_of_two_senders_the_first_address_is_taken_unless_another_has_clearly_more(
    tmp_path: Path,
) -> None:
    def lines(few: int) -> list[str]:
        own = [plain(128259, "00 64 00 ff ff 00 ff ff", at_s=i, source=9) for i in range(10)]
        low = [plain(128259, "00 c8 00 ff ff 00 ff ff", at_s=i, source=4) for i in range(few)]
        return own + low

    assert read(tmp_path, *lines(9)).channels["water_speed"].source == "PGN 128259 from 4"
    log = read(tmp_path, *lines(8))
    assert log.channels["water_speed"].source == "PGN 128259 from 9"
    became = {column.name: column.channel for column in log.columns}
    assert became["PGN 128259 from 4 water_speed"] is None
    assert became["PGN 128259 from 9 water_speed"] == "water_speed"
    assert log.counts["not_taken:water_speed of PGN 128259 from 4"] == 8


def test_speed_and_position_come_from_one_receiver(tmp_path: Path) -> None:
    """Receiver 5 has more places, receiver 7 the faster speed: all is taken from 7."""
    lines = [plain(129026, "ff fc e1 51 f6 00 ff ff", at_s=i / 2, source=7) for i in range(10)]
    lines += [plain(129026, "ff fc e1 51 f6 00 ff ff", at_s=i, source=5) for i in range(5)]
    place = "82 9f 49 17 43 83 6c d2"
    lines += [plain(129025, place, at_s=i / 10, source=5) for i in range(50)]
    lines += [plain(129025, place, at_s=i / 2, source=7) for i in range(10)]
    log = read(tmp_path, *lines)
    assert {c.source[-6:] for c in log.channels.values()} == {"from 7"}
    assert log.channels["speed"].means == "doppler"


def test_a_position_without_a_fix_is_none(tmp_path: Path) -> None:
    """129029 with the method 0 (canboat: no GNSS) still holds numbers."""
    data = bytearray(43)
    data[1:3] = (18000).to_bytes(2, "little")
    data[7:15] = (60 * 10**16).to_bytes(8, "little")
    data[15:23] = (24 * 10**16).to_bytes(8, "little")
    data[31] = 0x10
    assert value(read(tmp_path, plain(129029, data.hex())), "latitude") == pytest.approx(60.0)
    data[31] = 0x00
    with pytest.raises(EmptyLogError):
        read(tmp_path, plain(129029, data.hex()))


def test_a_group_that_is_not_used_is_counted_and_listed(tmp_path: Path) -> None:
    lines = [plain(127488, "00 92 0c ff ff 7f ff ff"), plain(60928, "01 02 03 04 05 06 07 08")]
    log = read(tmp_path, *lines)
    assert log.counts["unused:60928"] == 1
    assert "PGN 60928" in {column.name for column in log.columns}
