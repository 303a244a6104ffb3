"""NMEA 0183 sentences against values that other projects published for them."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pynmea2
import pytest
from log_samples import KNOT, nmea, rmc, sentence

from sync.errors import EmptyLogError, LogFormatError
from sync.log import Log
from sync.readers import LogSettings, read_log
from sync.readers.nmea_fields import degrees, numbers, time_of_day

DATE = dt.date(2026, 6, 11)
GGA = "$GPGGA,184353.07,1929.045,S,02410.506,E,1,04,2.6,100.00,M,-33.9,M,,0000*6D"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "gps.nmea"


def read(path: Path, *sentences: str, date: dt.date | None = DATE) -> Log:
    path.write_text("".join(f"{text}\r\n" for text in sentences))
    return read_log(path, settings=LogSettings(date=date))


def value(log: Log, key: str) -> float:
    (only,) = log.channels[key].values
    return float(only)


def utc(*parts: int) -> float:
    # six or seven parts: a star hides their number from the type checker
    return dt.datetime(*parts, tzinfo=dt.UTC).timestamp()  # type: ignore[arg-type, misc]


def test_rmc_gives_place_speed_course_and_instant(path: Path) -> None:
    """Source: pynmea2, test/test_types.py (RMC)."""
    text = "$GPRMC,225446,A,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E*68"
    log = read(path, text, date=None)
    assert log.channels["speed"].t_s[0] == utc(1994, 11, 19, 22, 54, 46)
    assert value(log, "latitude") == pytest.approx(49.274166667, abs=1e-9)
    assert value(log, "longitude") == pytest.approx(-123.185333333, abs=1e-9)
    assert value(log, "speed") == pytest.approx(0.5 * KNOT)
    assert np.degrees(value(log, "course")) == pytest.approx(54.7)
    assert log.clock == "utc"


def test_rmc_of_another_project(path: Path) -> None:
    """Source: Signal K nmea0183-signalk, test/RMC.ts."""
    text = "$GPRMC,085412.000,A,5222.3198,N,00454.5784,E,0.58,251.34,030414,,,A*65"
    log = read(path, text, date=None)
    assert log.channels["speed"].t_s[0] == 1396515252.0
    assert value(log, "speed") == pytest.approx(0.298378, abs=1e-6)
    assert value(log, "course") == pytest.approx(4.38671, abs=1e-4)


def test_an_empty_course_is_none_and_not_north(path: Path) -> None:
    """Source of the sentence: gpsd, www/NMEA.adoc."""
    text = "$GNRMC,001031.00,A,4404.13993,N,12118.86023,W,0.146,,100117,,,A*7B"
    log = read(path, text, date=None)
    assert "course" not in log.channels
    assert value(log, "speed") == pytest.approx(0.146 * KNOT)


@pytest.mark.parametrize(
    ("text", "valid"),
    [
        ("$GPRMC,123519.00,A,4807.038,N,01131.000,E,,,230394,,*33", True),
        ("$GPRMC,123519.00,V,4807.038,N,01131.000,E,,,230394,,*24", False),
    ],
)
def test_status_v_is_no_place(path: Path, text: str, valid: bool) -> None:
    """Source: pynmea2, test_RMC_valid; each stands beside a sound one so that there is a log."""
    good = "$GPRMC,123520.00,A,4807.038,N,01131.000,E,,,230394,,*39"
    log = read(path, text, good, date=None)
    latitude = log.channels["latitude"]
    assert latitude.t_s.tolist() == [utc(1994, 3, 23, 12, 35, 19), utc(1994, 3, 23, 12, 35, 20)]
    assert bool(np.isfinite(latitude.values[0])) is valid
    assert bool(pynmea2.parse(text).is_valid) is valid


@pytest.mark.parametrize(("mode", "valid"), [("A", True), ("D", True), ("N", False)])
def test_mode_n_is_no_place_whatever_the_status(path: Path, mode: str, valid: bool) -> None:
    """The mode's letters: pynmea2, test_RMC_valid; the sentence is made here."""
    body = f"GPRMC,123519.00,A,4807.038,N,01131.000,E,1.0,,230394,,,{mode}"
    good = "GPRMC,123520.00,A,4807.038,N,01131.000,E,1.0,,230394,,,A"
    log = read(path, sentence(body), sentence(good), date=None)
    assert bool(np.isfinite(log.channels["speed"].values[0])) is valid


def test_a_receiver_that_gives_no_navigational_status_is_believed(path: Path) -> None:
    """V in the last field says so (IEC 61162-1, from memory); common receivers always send it."""
    body = "GPRMC,123519.00,A,4807.038,N,01131.000,E,1.0,,230394,,,A,V"
    assert value(read(path, sentence(body), date=None), "speed") == pytest.approx(KNOT)


@pytest.mark.parametrize(
    ("text", "speed"),
    [
        ("$GPVTG,220.86,T,,M,2.550,N,4.724,K,A*34", 2.550 * KNOT),  # gpsd, www/NMEA.adoc
        ("$GPVTG,0.0,T,359.3,M,15.0,N,,K,A*35", 7.71667),  # Signal K, test/VTG.ts
        ("$GPVTG,,T,,M,0.102,N,0.190,K,A*28", 0.0525),  # Signal K: 0.0528 from the km/h
    ],
)
def test_vtg_gives_speed_in_knots(path: Path, text: str, speed: float) -> None:
    log = read(path, text, GGA)
    assert value(log, "speed") == pytest.approx(speed, abs=1e-4)
    assert log.channels["speed"].means == "doppler"


def test_vtg_falls_back_on_kilometres_an_hour(path: Path) -> None:
    """Source of the pair 2.550 kn, 4.724 km/h: gpsd, www/NMEA.adoc; equal within rounding."""
    log = read(path, sentence("GPVTG,220.86,T,,M,,N,4.724,K,A"), GGA)
    assert value(log, "speed") == pytest.approx(2.550 * KNOT, abs=0.01 / 3.6)


def test_the_old_form_of_vtg_has_no_letters(path: Path) -> None:
    """Source: gpsd, www/NMEA.adoc: without a T in the second field it is the old form."""
    log = read(path, sentence("GPVTG,054.7,034.4,005.5,010.2"), GGA)
    assert value(log, "speed") == pytest.approx(5.5 * KNOT)
    assert np.degrees(value(log, "course")) == pytest.approx(54.7)


def test_gga_gives_place_and_altitude(path: Path) -> None:
    """Source: pynmea2, test/test_types.py (GGA)."""
    log = read(path, GGA)
    assert value(log, "latitude") == pytest.approx(-19.484083333, abs=1e-9)
    assert value(log, "longitude") == pytest.approx(24.1751, abs=1e-9)
    assert value(log, "altitude") == 100.0
    assert log.channels["latitude"].t_s[0] == pytest.approx(utc(2026, 6, 11, 18, 43, 53) + 0.07)


def test_gga_of_another_project(path: Path) -> None:
    """Source: Signal K nmea0183-signalk, test/GGA.ts."""
    text = "$GPGGA,172814.0,3723.46587704,N,12202.26957864,W,2,6,1.2,18.893,M,-25.669,M,2.0,0031*4F"
    log = read(path, text)
    assert value(log, "latitude") == pytest.approx(37.391097950667, abs=1e-12)
    assert value(log, "longitude") == pytest.approx(-122.037826310667, abs=1e-12)
    assert value(log, "altitude") == 18.893


def test_an_empty_gga_is_nowhere_and_not_off_africa(path: Path) -> None:
    """Source of the sentence: pynmea2's own tests, where its latitude reads 0.0."""
    empty = "$GPGGA,201716.684,,,,,0,00,,,M,0.0,M,,0000*5F"
    with pytest.raises(EmptyLogError, match="never had a position or a speed"):
        read(path, empty)
    log = read(path, GGA, empty)
    assert np.isnan(log.channels["latitude"].values[1])
    assert log.channels["latitude"].t_s.size == 2


@pytest.mark.parametrize(
    ("text", "key", "wanted"),
    [
        ("$GPHDT,123.456,T*32", "heading", np.radians(123.456)),  # Signal K: 2.1547 rad
        ("$GPHDT,274.07,T*03", "heading", np.radians(274.07)),  # gpsd
        ("$INHDG,180,5,W,10,W*6D", "magnetic_heading", np.radians(175)),  # Signal K, HDG.ts
        ("$INHDG,180,5,W,10,W*6D", "heading", np.radians(165)),  # Signal K, HDG.ts
        ("$SDHDG,181.9,,,0.6,E*32", "magnetic_heading", np.radians(181.9)),  # Signal K
        ("$SDHDG,181.9,,,0.6,E*32", "heading", np.radians(182.5)),  # Signal K
        ("$IIRPM,E,1,2418.2,10.5,A*5F", "engine_speed", 2418.2 / 60),  # Signal K, RPM.ts
        ("$GPROT,35.6,A*01", "turn_rate", 0.010356),  # Signal K, ROT.ts
        ("$IIVHW,,T,,M,06.12,N,11.33,K*50", "water_speed", 3.1484),  # Signal K
    ],
)
def test_instruments(path: Path, text: str, key: str, wanted: float) -> None:
    assert value(read(path, GGA, text), key) == pytest.approx(
        wanted, abs=5e-7 + 1e-4 * (key == "water_speed")
    )


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("$GPROT,10.0,V*17", "turn_rate"),  # Signal K, ROT.ts: status V
        ("$IIRPM,S,2,1800.0,0.0,A*7A", "engine_speed"),  # Signal K, RPM.ts: a shaft
        ("$YXXDR,A,-64.437,M,N,A,054.454,D,E,C,17.09,C,T-N1052*46", "pitch"),  # pynmea2
        ("$YXMTW,15.2,C*14", "heading"),  # Signal K: water temperature, not read
    ],
)
def test_what_is_no_value_makes_no_channel(path: Path, text: str, key: str) -> None:
    log = read(path, GGA, text)
    assert key not in log.channels
    assert any(text[1:6] in column.name for column in log.columns)


def test_pitch_and_roll_come_from_named_transducers(path: Path) -> None:
    """The form of the sentence: gpsd, www/NMEA.adoc; the values are made here."""
    body = "HCXDR,A,4.5,D,PITCH,A,-12.0,D,ROLL,G,367,,MAGX"
    log = read(path, GGA, sentence(body))
    assert np.degrees(value(log, "pitch")) == pytest.approx(4.5)
    assert np.degrees(value(log, "roll")) == pytest.approx(-12.0)


def test_a_pitch_beyond_upright_is_a_spike(path: Path) -> None:
    """Source: gpsd, www/NMEA.adoc; its 171 is in a device's own unit and no pitch in degrees."""
    text = "$HCXDR,A,171,D,PITCH,A,-37,D,ROLL,G,367,,MAGX,G,2420,,MAGY,G,-8984,,MAGZ*41"
    log = read(path, GGA, text)
    assert "pitch" not in log.channels
    assert log.counts["spikes:pitch"] == 1
    assert any("pitch" in warning for warning in log.warnings)


def test_two_engines_go_from_port_to_starboard(path: Path) -> None:
    """Odd numbers are to starboard, even ones to port (IEC 61162-1, from memory)."""
    one = sentence("IIRPM,E,1,3000.0,,A")
    two = sentence("IIRPM,E,2,3060.0,,A")
    log = read(path, GGA, one, two)
    assert value(log, "engine_speed") == pytest.approx(51.0)
    assert value(log, "engine_speed.1") == pytest.approx(50.0)


def test_zda_dates_a_log_that_has_no_other_date(path: Path) -> None:
    """Source of the ZDA: Signal K: 2004-03-11T16:00:12.710Z."""
    gga = sentence("GPGGA,160012.71,1929.045,S,02410.506,E,1,04,2.6,100.00,M,-33.9,M,,0000")
    log = read(path, "$GPZDA,160012.71,11,03,2004,-1,00*7D", gga, date=None)
    assert log.channels["latitude"].t_s[0] == pytest.approx(1079020812.71, abs=1e-6)


def test_without_any_date_the_sheet_is_asked(path: Path) -> None:
    with pytest.raises(LogFormatError, match="no date") as caught:
        read(path, GGA, date=None)
    assert "trial sheet" in caught.value.advice


def test_a_wrong_checksum_is_counted_and_costs_its_sentence(path: Path) -> None:
    """Source of the rule: pynmea2, test_checksum: the first GGA with *00 must not pass."""
    log = read(path, rmc_line(0), GGA[:-2] + "00", rmc_line(1), date=None)
    assert log.counts["checksum_errors"] == 1
    assert "altitude" not in log.channels
    assert any("checksum" in warning for warning in log.warnings)


def rmc_line(second: int) -> str:
    return sentence(rmc(f"09000{second}.00", "5.0"))


def test_a_log_of_nothing_but_bad_checksums_says_so(path: Path) -> None:
    with pytest.raises(EmptyLogError, match="1 checksum error"):
        read(path, GGA[:-2] + "00")


def test_sentences_without_a_checksum_are_taken_and_counted(path: Path) -> None:
    log = read(path, rmc_line(0), rmc_line(1).partition("*")[0], date=None)
    assert log.channels["speed"].values.size == 2
    assert log.counts["without_checksum"] == 1


def test_a_sentence_broken_off_by_the_next_is_not_taken(path: Path) -> None:
    """A logger that lost bytes runs two sentences together; the first one's numbers are cut."""
    path.write_text(
        nmea([rmc("090000.00", "5.0")]) + "$GPRMC,090001.00,A,6005" + rmc_line(2) + "\n"
    )
    log = read_log(path)
    assert log.channels["speed"].t_s.size == 2
    assert log.counts["cut"] == 1


def test_tag_blocks_and_time_stamps_before_a_sentence_are_passed_over(path: Path) -> None:
    """The form of a tag block: NMEA 0183 4.00, from memory."""
    log = read(
        path,
        f"\\s:bow,c:1781168400*5C\\{rmc_line(0)}",
        f"2026-06-11T09:00:01.020Z;{rmc_line(1)}",
        f"[1234.5] {rmc_line(2)}",
        date=None,
    )
    assert log.channels["speed"].t_s.size == 3
    assert log.counts["prefixed"] == 3


def test_what_is_not_read_is_counted_by_its_address(path: Path) -> None:
    log = read(path, rmc_line(0), sentence("PXYZA,1,2"), sentence("GPGSV,1,1,00"),
               "!AIVDM,1,1,,A,13aGmP0P00PD;88MD5MTDww@2<0L,0*23", date=None)  # fmt: skip
    assert log.counts["unused:PXYZA"] == log.counts["unused:GPGSV"] == 1
    assert log.counts["unused:AIVDM"] == 1
    assert {c.name for c in log.columns if c.channel is None} >= {"PXYZA", "GPGSV", "AIVDM"}


def test_positions_are_degrees_and_minutes() -> None:
    """Source: gpsd, www/NMEA.adoc: 4533.35 is 45° 33.35′."""
    north = degrees(
        ["4533.35", "4533.35", "", "4575.00", "4533.35"], ["N", "S", "N", "N", ""], "N", "S"
    )
    np.testing.assert_allclose(north, [45 + 33.35 / 60, -45 - 33.35 / 60, np.nan, np.nan, np.nan])


def test_times_of_day_are_hours_minutes_seconds() -> None:
    texts = ["225446", "184353.07", "000000.00", "235959.999", "", "246000", "126199", "x"]
    wanted = [82486.0, 67433.07, 0.0, 86399.999, np.nan, np.nan, np.nan, np.nan]
    np.testing.assert_allclose(time_of_day(texts), wanted, atol=1e-9)


def test_damaged_numbers_are_no_value() -> None:
    np.testing.assert_array_equal(numbers(["1.5", "", "1.5.2", "-2"]), [1.5, np.nan, np.nan, -2.0])
