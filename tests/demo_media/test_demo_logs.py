"""The demo's logs are what instruments write, and stand where the truth says they do."""

from __future__ import annotations

import csv
from datetime import UTC, datetime
from functools import cache

import numpy as np
import pynmea2
import pytest
from pyproj import Geod

from demo_media import DemoTrial
from demo_media.nmea import ORIGIN, place, sentence
from demo_media.noise import coloured, generator
from demo_media.scenario import DEMO_SCENARIO
from demo_media.simulate import Day

KNOT = 1852 / 3600  # NIST SP 811: 1852 m an hour


@cache
def _sentences(text: str) -> tuple[pynmea2.NMEASentence, ...]:
    return tuple(pynmea2.parse(line, check=True) for line in text.splitlines())


@pytest.fixture(scope="module")
def sentences(demo: DemoTrial) -> tuple[pynmea2.NMEASentence, ...]:
    return _sentences((demo.folder / "logs/gps.nmea").read_text(encoding="ascii"))


def _table(demo: DemoTrial, name: str) -> list[dict[str, str]]:
    with (demo.folder / "logs" / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _shift_s(t: np.ndarray, seen: np.ndarray, true_t: np.ndarray, true: np.ndarray) -> float:
    """How much later a series stands than the true one, by the least squares of the misfit."""
    lags = np.arange(0.0, 0.5, 0.005)
    misfit = [float(((seen - np.interp(t - lag, true_t, true)) ** 2).mean()) for lag in lags]
    return float(lags[int(np.argmin(misfit))])


def test_checksum_is_that_of_a_published_sentence() -> None:
    # `$GPHDT,274.07,T*03` stands in gpsd's public description of NMEA 0183
    assert sentence("GPHDT,274.07,T") == "$GPHDT,274.07,T*03\r\n"


def test_every_epoch_has_its_sentences(sentences: tuple[pynmea2.NMEASentence, ...]) -> None:
    kinds = [s.sentence_type for s in sentences]
    assert kinds.count("RMC") == kinds.count("VTG") == kinds.count("GGA") == 1800
    assert kinds.count("ZDA") == 180
    times = [s.timestamp for s in sentences if s.sentence_type == "RMC"]
    seconds = np.array([t.hour * 3600 + t.minute * 60 + t.second + t.microsecond / 1e6
                        for t in times])  # fmt: skip
    assert np.allclose(np.diff(seconds), 0.1, atol=1e-6)


def test_lines_keep_to_82_bytes(demo: DemoTrial) -> None:
    # gpsd's description: at most 82 bytes with `$`, CR and LF
    raw = (demo.folder / "logs/gps.nmea").read_bytes()
    assert max(len(line) + 2 for line in raw.split(b"\r\n")) <= 82
    assert raw.endswith(b"\r\n")


def test_speed_is_late_by_the_receivers_delay_and_noisy_as_told(
    sentences: tuple[pynmea2.NMEASentence, ...], day: Day
) -> None:
    rmc = [s for s in sentences if s.sentence_type == "RMC"]
    speed = np.array([float(s.spd_over_grnd) * KNOT for s in rmc])
    t = np.arange(speed.size) / 10
    launch = (t > 73) & (t < 95)
    shift = _shift_s(t[launch], speed[launch], day.t_s, day.speed_mps)
    assert shift == pytest.approx(DEMO_SCENARIO.instruments.gps_delay_s, abs=0.025)
    noise = (speed - np.interp(t - 0.2, day.t_s, day.speed_mps))[t > 76]
    assert 0.03 <= float(noise.std()) <= 0.06
    again = np.corrcoef(noise[3:], noise[:-3])[0, 1]  # 0.3 s apart: exp(-1) where coloured
    assert 0.15 <= float(again) <= 0.6


def test_rmc_and_vtg_tell_one_speed(sentences: tuple[pynmea2.NMEASentence, ...]) -> None:
    rmc = [float(s.spd_over_grnd) for s in sentences if s.sentence_type == "RMC"]
    vtg = [float(s.spd_over_grnd_kts) for s in sentences if s.sentence_type == "VTG"]
    assert rmc == vtg


def test_positions_move_as_the_boat_does(
    sentences: tuple[pynmea2.NMEASentence, ...], day: Day
) -> None:
    # distances by pyproj on WGS 84
    gga = [s for s in sentences if s.sentence_type == "GGA"]
    first, last = gga[730], gga[980]
    _, _, metres = Geod(ellps="WGS84").inv(
        first.longitude, first.latitude, last.longitude, last.latitude
    )
    way = np.hypot(np.interp(98, day.t_s, day.x_m) - np.interp(73, day.t_s, day.x_m),
                   np.interp(98, day.t_s, day.y_m) - np.interp(73, day.t_s, day.y_m))  # fmt: skip
    assert metres == pytest.approx(float(way), abs=3.0)


def test_places_agree_with_geodesy() -> None:
    latitude, longitude = place(300.0, 400.0)
    azimuth, _, metres = Geod(ellps="WGS84").inv(ORIGIN[1], ORIGIN[0], longitude, latitude)
    assert metres == pytest.approx(500.0, abs=0.02)
    assert azimuth == pytest.approx(36.8699, abs=0.01)  # atan(3/4)


def test_course_is_empty_while_the_boat_hardly_moves(
    sentences: tuple[pynmea2.NMEASentence, ...],
) -> None:
    rmc = [s for s in sentences if s.sentence_type == "RMC"]
    assert rmc[700].true_course is None
    assert float(rmc[950].true_course) == pytest.approx(62.0, abs=1.5)


def test_engine_log_counts_on_its_own_clock(demo: DemoTrial) -> None:
    rows = _table(demo, "engine.csv")
    own = np.array([float(row["time (s)"]) for row in rows])
    assert np.all(np.diff(own) > 0)
    events = {row["event"]: float(row["time (s)"]) for row in rows if row["event"]}
    truth = demo.truth
    assert events["clap"] + truth.engine_offset_s == pytest.approx(truth.clap_utc_s, abs=0.0006)
    since_clap = (events["button"] - events["clap"]) * truth.engine_rate
    assert truth.clap_utc_s + since_clap == pytest.approx(truth.button_utc_s, abs=0.0011)


def test_rpm_and_flow_are_late_and_the_lever_is_not(demo: DemoTrial, day: Day) -> None:
    rows = [row for row in _table(demo, "engine.csv") if row["rpm"]]
    t = np.array([float(row["time (s)"]) for row in rows])
    t += DEMO_SCENARIO.instruments.engine_clock_start_s
    launch = (t > 70) & (t < 84)
    for name, true, delay in (
        ("rpm", day.engine_rps * 60, 0.15),
        ("fuel_flow_lph", day.fuel_flow_lph, 0.15),
        ("throttle (%)", np.abs(day.lever) * 100, 0.0),
    ):
        seen = np.array([float(row[name]) for row in rows])
        shift = _shift_s(t[launch], seen[launch], day.t_s, true)
        assert shift == pytest.approx(delay, abs=0.02), name


def test_lever_in_the_log_leads_to_the_launchs_start(demo: DemoTrial) -> None:
    rows = [row for row in _table(demo, "engine.csv") if row["rpm"]]
    t = np.array([float(row["time (s)"]) for row in rows]) + demo.truth.engine_offset_s
    lever = np.array([float(row["throttle (%)"]) for row in rows])
    moving = (lever > 3) & (lever < 97) & (t > demo.truth.launch_utc_s - 5)
    moving &= t < demo.truth.launch_utc_s + 2
    slope, start = np.polyfit(t[moving] - demo.truth.launch_utc_s, lever[moving], 1)
    assert -start / slope == pytest.approx(0.0, abs=0.01)


def test_gear_is_neutral_before_and_ahead_after(demo: DemoTrial) -> None:
    rows = [row for row in _table(demo, "engine.csv") if row["rpm"]]
    t = np.array([float(row["time (s)"]) for row in rows]) + demo.truth.engine_offset_s
    gear = np.array([int(row["gear"]) for row in rows])
    since = t - demo.truth.launch_utc_s
    assert set(gear[(since > -20) & (since < -0.1)]) == {0}
    assert set(gear[(since > 0.15) & (since < 20)]) == {1}


def test_attitude_is_tilted_late_and_in_utc(demo: DemoTrial, day: Day) -> None:
    rows = _table(demo, "attitude.csv")
    assert len(rows) == 9000
    t = np.array([datetime.fromisoformat(row["time"]).timestamp() for row in rows])
    t -= DEMO_SCENARIO.day_start_utc_s
    assert np.allclose(np.diff(t), 0.02, atol=1e-6)
    late = t - 0.02
    for column, true, tilt in (
        ("pitch (deg)", np.degrees(day.pitch_rad), 0.7),
        ("roll (deg)", np.degrees(day.roll_rad), -0.4),
    ):
        off = np.array([float(row[column]) for row in rows]) - np.interp(late, day.t_s, true)
        assert float(off.mean()) == pytest.approx(tilt, abs=0.01)
        assert float(off.std()) < 0.1


def test_tie_marks_are_stamped_to_the_millisecond(demo: DemoTrial) -> None:
    rows = _table(demo, "marks.csv")
    assert [row["event"] for row in rows] == ["clap", "button"]
    stamps = [datetime.fromisoformat(row["time"]) for row in rows]
    assert all(stamp.tzinfo == UTC for stamp in stamps)
    true = (demo.truth.clap_utc_s, demo.truth.button_utc_s)
    for stamp, t in zip(stamps, true, strict=True):
        assert stamp.timestamp() == pytest.approx(t, abs=0.0006)
    assert true[1] - true[0] > 60


def test_noise_has_the_spread_and_memory_asked_for() -> None:
    noise = coloured(generator(1, "test"), 40000, sd=0.05, period_s=0.1, time_s=0.3)
    assert float(noise.std()) == pytest.approx(0.05, rel=0.03)
    again = np.corrcoef(noise[1:], noise[:-1])[0, 1]
    assert float(again) == pytest.approx(np.exp(-1 / 3), abs=0.02)
