"""Parquet tables, written with pyarrow."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pytest
from pyarrow import parquet as pq

from sync.clock import UTC
from sync.errors import EmptyLogError, LogFormatError, UnitError
from sync.log import Log
from sync.readers import LogSettings, detect, read_log

START = dt.datetime(2026, 6, 11, 9, tzinfo=dt.UTC)
START_S = 1781168400.0
STEPS = [START + dt.timedelta(seconds=i / 10) for i in range(5)]
RPM = [600.0, 660.0, 720.0, 780.0, 840.0]


def read(folder: Path, columns: dict[str, Any], settings: LogSettings | None = None) -> Log:
    path = folder / "run"
    pq.write_table(pa.table(columns), path)
    assert detect(path).key == "parquet"
    return read_log(path, settings=settings)


def times(log: Log) -> Any:
    return log.channels["engine_speed"].t_s


@pytest.mark.parametrize("unit", ["s", "ms", "us", "ns"])
@pytest.mark.parametrize("zone", ["UTC", "Europe/Helsinki", "+05:30"])
def test_time_stamps_with_a_zone_are_utc(unit: str, zone: str, tmp_path: Path) -> None:
    whole = [START + dt.timedelta(seconds=i) for i in range(5)]
    log = read(tmp_path, {"time": pa.array(whole, pa.timestamp(unit, zone)), "rpm": RPM})
    assert log.clock == UTC
    np.testing.assert_allclose(times(log), START_S + np.arange(5), atol=1e-6)


def test_time_stamps_without_a_zone_are_in_that_of_the_trial(tmp_path: Path) -> None:
    """Helsinki is three hours ahead of UTC in June."""
    plain = pa.array([step.replace(tzinfo=None) for step in STEPS], pa.timestamp("us"))
    log = read(tmp_path, {"time": plain, "rpm": RPM}, LogSettings(time_zone="Europe/Helsinki"))
    np.testing.assert_allclose(times(log), START_S - 3 * 3600 + np.arange(5) / 10, atol=1e-6)
    with pytest.raises(LogFormatError, match="no time zone is known") as caught:
        read(tmp_path, {"time": plain, "rpm": RPM})
    assert caught.value.line is None


def test_text_in_iso_8601_and_seconds_since_a_start_are_times_too(tmp_path: Path) -> None:
    log = read(tmp_path, {"time": [step.isoformat() for step in STEPS], "rpm": RPM})
    np.testing.assert_allclose(times(log), START_S + np.arange(5) / 10, atol=1e-6)
    log = read(tmp_path, {"time (ms)": [0, 100, 200, 300, 400], "rpm": RPM})
    assert log.clock == "log:run"
    np.testing.assert_allclose(times(log), np.arange(5) / 10, atol=1e-9)


def test_units_stand_in_names_or_beside_them(tmp_path: Path) -> None:
    """10 kn are 5.1444 m/s (NIST SP 811)."""
    fields = [
        pa.field("time (s)", pa.float64()),
        pa.field("SOG", pa.float32(), metadata={"Unit": "kn"}),
        pa.field("oil pressure", pa.float64(), metadata={"units": "kPa"}),
        pa.field("pitch [deg]", pa.int16()),
    ]
    table = pa.table([[0.0, 1.0], [10.0, 20.0], [400.0, 410.0], [3, 4]], schema=pa.schema(fields))
    path = tmp_path / "run"
    pq.write_table(table, path)
    log = read_log(path, settings=LogSettings(columns={"oil pressure": "oil_pressure (kPa)"}))
    np.testing.assert_allclose(log.channels["speed"].values, [5.14444, 10.28889], atol=1e-5)
    np.testing.assert_allclose(log.channels["oil_pressure"].values, [4e5, 4.1e5])
    np.testing.assert_allclose(log.channels["pitch"].values, np.deg2rad([3, 4]))


def test_a_name_without_a_unit_is_left_and_told(tmp_path: Path) -> None:
    log = read(tmp_path, {"time (s)": [0.0, 1.0], "rpm": [600, 660], "speed": [1.0, 2.0]})
    assert "speed" not in log.channels
    assert any("'speed' has no unit" in warning for warning in log.warnings)


def test_a_wrong_unit_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(UnitError, match="speed"):
        read(tmp_path, {"time (s)": [0.0, 1.0], "speed (kg)": [1.0, 2.0]})


def test_null_and_not_a_number_are_holes(tmp_path: Path) -> None:
    log = read(tmp_path, {"time (s)": [0.0, 1, 2, 3], "rpm": [600.0, None, float("nan"), 660.0]})
    np.testing.assert_allclose(log.channels["engine_speed"].values, [10, np.nan, np.nan, 11])


def test_events_are_tie_marks_and_gears_are_words(tmp_path: Path) -> None:
    log = read(
        tmp_path,
        {
            "time (s)": [0.0, 1.0, 1.25, 2.0],
            "gear": ["N", "F", None, "R"],
            "event": [None, None, "Clap", None],
        },
    )
    np.testing.assert_array_equal(log.channels["gear"].values, [0.0, 1.0, np.nan, -1.0])
    (mark,) = log.marks
    assert (mark.label, mark.t_s) == ("clap", 1.25)


def test_categories_are_the_words_that_they_stand_for(tmp_path: Path) -> None:
    gears = pa.array(["N", "F", "F"]).dictionary_encode()
    log = read(tmp_path, {"time (s)": [0.0, 1.0, 2.0], "gear": gears})
    np.testing.assert_array_equal(log.channels["gear"].values, [0.0, 1.0, 1.0])


def test_nested_columns_and_strangers_are_left_and_told(tmp_path: Path) -> None:
    log = read(tmp_path, {"time (s)": [0.0, 1.0], "rpm": [600, 660], "x": [{"a": 1}, {"a": 2}]})
    assert any("not understood: 'x'" in warning for warning in log.warnings)


def test_rows_out_of_order_are_counted(tmp_path: Path) -> None:
    log = read(tmp_path, {"time (s)": [0.0, 1.0, 1.0, 2.0, None], "rpm": RPM})
    np.testing.assert_allclose(log.channels["engine_speed"].values, [10, 11, 13])
    assert (log.counts["repeated_times"], log.counts["untimed_rows"]) == (1, 1)


def test_without_a_time_or_a_value_it_is_refused(tmp_path: Path) -> None:
    with pytest.raises(LogFormatError, match="no column of time"):
        read(tmp_path, {"rpm": RPM})
    with pytest.raises(EmptyLogError, match="no value in any"):
        read(tmp_path, {"time (s)": [0.0, 1.0], "rpm": pa.array([None, None], pa.float64())})


def test_a_file_that_was_not_closed_is_told_from_others(tmp_path: Path) -> None:
    path = tmp_path / "run"
    pq.write_table(pa.table({"time (s)": [0.0], "rpm": [600]}), path)
    path.write_bytes(path.read_bytes()[:-20])
    with pytest.raises(LogFormatError, match="damaged or broke off") as caught:
        read_log(path)
    assert "\n" not in str(caught.value)
