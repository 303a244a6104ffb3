"""A real boat's log: npm signalk-server 2.23.0, samples/plaka.log.

Counted and decoded here by plain text and by pynmea2 alone, never by the reader under test.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from pathlib import Path

import numpy as np
import outside
import pynmea2
import pytest

from sync.errors import LogFormatError
from sync.log import Log
from sync.readers import LogSettings, detect, read_log

pytestmark = pytest.mark.outside

SHA256 = "c79c2365ece431cb0bf0fa0f60c0a74c6472edfec49cd4baabadf7ac04eac8fe"
DATE = dt.date(2026, 6, 11)
KNOT = 1852 / 3600


@pytest.fixture(scope="module")
def path() -> Path:
    return outside.npm("signalk-server", "2.23.0", "samples/plaka.log", SHA256)


@pytest.fixture(scope="module")
def log(path: Path) -> Log:
    return read_log(path, settings=LogSettings(date=DATE))


@pytest.fixture(scope="module")
def lines(path: Path) -> list[str]:
    return path.read_text("ascii").split("\n")


def midnight() -> float:
    return dt.datetime(DATE.year, DATE.month, DATE.day, tzinfo=dt.UTC).timestamp()


def test_its_content_says_what_it_is(path: Path) -> None:
    assert detect(path).key == "nmea0183"


def test_every_sentence_is_counted(log: Log, lines: list[str]) -> None:
    by_address = Counter(line[1:6] for line in lines if line.startswith("$"))
    assert sum(by_address.values()) == log.counts["sentences"] == 116_000
    assert log.counts["checksum_errors"] == 0
    for address, count in by_address.items():
        found = log.counts.get(f"sentences:{address}", log.counts.get(f"unused:{address}"))
        assert found == count, address


def test_every_speed_is_that_of_its_vtg(log: Log, lines: list[str]) -> None:
    wanted = [pynmea2.parse(line).spd_over_grnd_kts for line in lines if line[3:6] == "VTG"]
    speed = log.channels["speed"]
    assert speed.values.size == len(wanted) == 7250
    np.testing.assert_allclose(speed.values / KNOT, np.array(wanted, dtype=float), atol=1e-9)
    assert (speed.means, speed.source) == ("doppler", "IIVTG")


def test_every_speed_has_the_time_of_the_position_in_its_cycle(log: Log, lines: list[str]) -> None:
    """Each cycle of this log begins with VHW and holds one VTG and one GLL, in that order."""
    cycles = "\n".join(lines).split("$IIVHW")[1:]
    times = []
    for cycle in cycles:
        (gll,) = [line for line in cycle.split("\n") if "GLL" in line]
        stamp = pynmea2.parse(gll).timestamp
        times.append(midnight() + stamp.hour * 3600 + stamp.minute * 60 + stamp.second)
        assert cycle.index("VTG") < cycle.index("GLL")
    np.testing.assert_array_equal(log.channels["speed"].t_s, times)
    assert any("before the time of its epoch" in warning for warning in log.warnings)


def test_every_position_is_that_of_its_gll(log: Log, lines: list[str]) -> None:
    parsed = [pynmea2.parse(line) for line in lines if line[3:6] == "GLL"]
    latitude = [one.latitude for one in parsed]
    longitude = [one.longitude for one in parsed]
    np.testing.assert_allclose(log.channels["latitude"].values, latitude, atol=1e-9)
    np.testing.assert_allclose(log.channels["longitude"].values, longitude, atol=1e-9)


def test_it_spans_four_hours_and_its_speeds_are_a_boats(log: Log) -> None:
    """09:55:59 to 14:03:24 by the first and the last GLL, up to 7.1 kn."""
    span = log.span
    assert span is not None
    assert span.start_s - midnight() == 9 * 3600 + 55 * 60 + 59
    assert span.length_s == pytest.approx(4 * 3600 + 7 * 60 + 25, abs=1e-3)
    assert np.nanmax(log.channels["speed"].values) / KNOT == pytest.approx(7.1, abs=0.05)


def test_its_empty_headings_make_no_channel(log: Log) -> None:
    assert "heading" not in log.channels
    assert "magnetic_heading" not in log.channels
    assert "water_speed" in log.channels


def test_without_a_date_from_the_sheet_it_is_refused(path: Path) -> None:
    with pytest.raises(LogFormatError, match="no date"):
        read_log(path)


def test_speed_over_ground_agrees_with_the_positions(log: Log) -> None:
    """Two independent measurements of one boat: mean Doppler speed and geodesic distance run.

    Geodesics by pyproj on WGS 84. Positions are printed to 1.9 m, so ten-minute stretches of
    about a mile are compared; the two agree to a twentieth.
    """
    from pyproj import Geod

    speed, latitude = log.channels["speed"], log.channels["latitude"]
    longitude = log.channels["longitude"]
    geod = Geod(ellps="WGS84")
    stretch = 300
    compared = 0
    for first in range(0, speed.t_s.size - stretch, stretch):
        part = slice(first, first + stretch + 1)
        run = geod.line_length(longitude.values[part][::10], latitude.values[part][::10])
        seconds = speed.t_s[first + stretch] - speed.t_s[first]
        mean = float(np.mean(speed.values[part]))
        if mean > 4 * KNOT:
            compared += 1
            assert run / seconds == pytest.approx(mean, rel=0.05)
    assert compared > 10
