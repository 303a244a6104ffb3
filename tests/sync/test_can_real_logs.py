"""Two real buses: canboat's susteranna sample, and npm signalk-server 2.23.0's aava sample.

Every value that a channel shows is held against the decoder of PyPI nmea2000, which knows
nothing of the reader under test; counts, means and clock offsets are those stated with the
data, and were taken from the text by hand.
"""

from __future__ import annotations

import datetime as dt
import gzip
import logging
from collections import defaultdict
from pathlib import Path

import numpy as np
import outside
import pytest

from sync.clues import gnss_time_clues, source_times
from sync.log import Log
from sync.readers import detect, read_log
from sync.units import to_si

AAVA_SHA256 = "65abc4a8db5e6a970d47cd204c25126857b99577bec67b653ddf0b128fad1b8f"

FIELDS = {
    "speed": (129026, "sog", None),
    "course": (129026, "cog", ("cogReference", "True")),
    "latitude": (129025, "latitude", None),
    "longitude": (129025, "longitude", None),
    "altitude": (129029, "altitude", None),
    "heading": (127250, "heading", ("reference", "True")),
    "magnetic_heading": (127250, "heading", ("reference", "Magnetic")),
    "turn_rate": (127251, "rate", None),
    "pitch": (127257, "pitch", None),
    "roll": (127257, "roll", None),
    "rudder": (127245, "position", None),
    "engine_speed": (127488, "speed", None),
    "oil_pressure": (127489, "oilPressure", None),
    "engine_temperature": (127489, "temperature", None),
    "voltage": (127489, "alternatorPotential", None),
    "engine_hours": (127489, "totalEngineHours", None),
    "fuel_level": (127505, "level", ("type", "Fuel")),
    "water_speed": (128259, "speedWaterReferenced", None),
    "apparent_wind_speed": (130306, "windSpeed", ("reference", "Apparent")),
    "apparent_wind_angle": (130306, "windAngle", ("reference", "Apparent")),
    "air_pressure": (130314, "pressure", None),
}
"""The decoder's name of what each channel is made of, and what must hold beside it."""

UNITS = {"rpm": "rpm", "%": "%"}

Decoded = dict[tuple[int, int], list[dict[str, object]]]


def decoded(path: Path) -> Decoded:
    """All messages by group and sender, as the library's own loop reads them."""
    from nmea2000 import NMEA2000Decoder

    logging.getLogger("nmea2000").setLevel(logging.CRITICAL)
    decoder = NMEA2000Decoder(include_pgns=sorted({group for group, _, _ in FIELDS.values()}))
    found: Decoded = defaultdict(list)
    for line in path.read_text().splitlines():
        if line.count(",") < 6:
            continue
        message = decoder.decode(line)
        if message is not None:
            row = {"": dt.datetime.fromisoformat(line.split(",", 1)[0]).timestamp()}
            for field in message.fields:
                scale = UNITS.get(str(field.unit_of_measurement))
                value = field.value
                row[field.id] = to_si(value, scale) if scale and value is not None else value
            found[message.PGN, message.source].append(row)
    return found


@pytest.fixture(scope="module")
def paths(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    plain = tmp_path_factory.mktemp("bus") / "susteranna"
    packed = outside.given("n2k", "susteranna-actisense-serial.raw.gz")
    plain.write_bytes(gzip.decompress(packed.read_bytes()))
    aava = outside.npm("signalk-server", "2.23.0", "samples/aava-n2k.data", AAVA_SHA256)
    return {"susteranna": plain, "aava": aava}


@pytest.fixture(scope="module")
def logs(paths: dict[str, Path]) -> dict[str, Log]:
    return {name: read_log(path, name=name) for name, path in paths.items()}


pytestmark = pytest.mark.outside


def test_they_are_known_by_their_content(paths: dict[str, Path]) -> None:
    assert {detect(path).key for path in paths.values()} == {"canbus"}


@pytest.mark.parametrize("name", ["susteranna", "aava"])
def test_every_value_is_the_library_s(
    name: str, paths: dict[str, Path], logs: dict[str, Log]
) -> None:
    log, rows = logs[name], decoded(paths[name])
    compared = 0
    for key, (group, field, only) in FIELDS.items():
        channel = log.channels.get(key)
        if channel is None or f"PGN {group} " not in channel.source:
            continue
        source = int(channel.source.partition("from ")[2].partition(",")[0])
        mine = [row for row in rows[group, source] if (only is None or row[only[0]] == only[1])]
        wanted = np.array([row[field] for row in mine], dtype=float)
        stamps = np.array([row[""] for row in mine])
        _, first = np.unique(stamps, return_index=True)
        np.testing.assert_allclose(channel.t_s, stamps[first], atol=1e-6, err_msg=key)
        np.testing.assert_allclose(channel.values, wanted[first], atol=1e-8, rtol=1e-9, err_msg=key)
        compared += 1
    assert compared >= {"susteranna": 17, "aava": 8}[name]


def test_the_engine_of_susteranna(logs: dict[str, Log]) -> None:
    """314 messages, 781.25 to 818.5 rpm, 797.40 on average; 62 slow ones without a fuel rate."""
    log = logs["susteranna"]
    rpm = log.channels["engine_speed"].values * 60
    assert rpm.size == log.counts["messages:127488"] == 314
    assert (rpm.min(), rpm.max()) == pytest.approx((781.25, 818.5))
    assert rpm.mean() == pytest.approx(797.3965, abs=5e-5)
    assert log.counts["messages:127489"] == 62
    assert "fuel_flow" not in log.channels
    assert log.channels["engine_hours"].values.size == 62


def test_the_receivers_of_susteranna_are_kept_apart(logs: dict[str, Log]) -> None:
    """Three receivers: the one with ten speeds a second is taken, the others are listed."""
    log = logs["susteranna"]
    assert log.channels["speed"].source == "PGN 129026 from 127"
    assert log.channels["latitude"].source == "PGN 129025 from 127"
    others = {c.name for c in log.columns if c.channel is None and c.name.endswith(" speed")}
    assert {"PGN 129026 from 0 speed", "PGN 129026 from 18 speed"} <= others


def test_the_clocks_of_susteranna_s_receivers_disagree_and_make_no_clue(
    logs: dict[str, Log],
) -> None:
    """They lie 0.5, 1.0 and 3.0 s from the log's clock, as stated with the data."""
    log = logs["susteranna"]
    finding = gnss_time_clues(log)
    assert all(clue.hint for clue in finding.clues)
    offsets = sorted(-clue.offset_s for clue in finding.clues)
    assert offsets == pytest.approx([0.535, 1.033, 3.012], abs=0.002)
    (remark,) = finding.remarks
    for address in ("from 127", "from 18", "from 0"):
        assert address in remark


def test_the_clock_of_aava_is_ahead_by_half_a_second(logs: dict[str, Log]) -> None:
    """0.525 s by 129029, as stated with the data; 597 of them in ten minutes."""
    log = logs["aava"]
    clues = gnss_time_clues(log).clues
    assert len(clues) == 2
    for clue in clues:
        assert clue.offset_s == pytest.approx(-0.525, abs=0.02)
        assert not clue.hint
        assert (clue.from_clock, clue.to_clock) == ("log:aava", "utc")
        assert 0.1 <= clue.sd_s < 0.15
        assert "of 597 times, the" in clue.text
        assert "from PGN 129029 from 160" in clue.text
    (position,) = [s for s in source_times(log.clock_readings) if "129029" in s.source]
    assert position.offset_s == pytest.approx(-0.525, abs=0.001)
    assert position.rate is not None
    assert position.rate_sd is not None
    assert position.rate == pytest.approx(1.0, abs=5 * position.rate_sd)
    assert position.rate_sd < 50e-6


def test_aava_is_under_way(logs: dict[str, Log]) -> None:
    """5.7 to 7.3 kn over ten minutes, as stated with the data."""
    speed = logs["aava"].channels["speed"]
    knots = speed.values * 3600 / 1852
    assert knots.min() == pytest.approx(5.7, abs=0.05)
    assert knots.max() == pytest.approx(7.3, abs=0.05)
    assert logs["aava"].counts["lines"] == 21595
    assert speed.t_s[-1] - speed.t_s[0] == pytest.approx(600, abs=2)


def test_a_candump_of_a_third_bus_is_read_frame_by_frame(tmp_path: Path) -> None:
    """candumpSample3: ids and counts taken from its text with the standard library alone."""
    path = tmp_path / "bus"
    path.write_bytes(gzip.decompress(outside.given("n2k", "candumpSample3.txt.gz").read_bytes()))
    log = read_log(path)
    assert log.channels["speed"].source == "PGN 129026 from 43"
    wanted = []
    for line in path.read_text().splitlines():
        parts = line.split()
        if len(parts) == 3 and parts[2].startswith("09F8022B#"):
            data = bytes.fromhex(parts[2].partition("#")[2])
            wanted.append(int.from_bytes(data[4:6], "little") / 100)
    assert len(wanted) == 66
    np.testing.assert_allclose(log.channels["speed"].values, wanted)
    finding = gnss_time_clues(log)
    assert [clue.hint for clue in finding.clues] == [True]
    assert "no receiver in it states the time" in finding.remarks[0]
