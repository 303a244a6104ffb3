"""Measurement data files, written with asammdf."""

from __future__ import annotations

import datetime as dt
import importlib.util
from pathlib import Path

import numpy as np
import pytest
from log_samples import SAMPLES

from sync.clock import UTC
from sync.errors import EmptyLogError, LogFormatError, SyncError
from sync.readers import LogSettings, detect, mdf, read_log

START = dt.datetime(2026, 6, 11, 9, tzinfo=dt.UTC)
START_S = 1781168400.0


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two groups: engine and speed ten times a second, fuel flow once; and a text signal."""
    from asammdf import MDF, Signal

    place = tmp_path_factory.mktemp("mdf") / "run.mf4"
    t = np.arange(50) / 10
    slow = np.arange(5.0)
    with MDF(version="4.10") as file:
        file.start_time = START
        file.append(
            [
                Signal(600 + 60 * t, t, name="rpm", unit="rpm"),
                Signal((10 * t).astype("u2"), t, name="SOG", unit="kn"),
                Signal(np.array([b"N"] * 50), t, name="remarks", encoding="utf-8"),
            ]
        )
        file.append([Signal(slow, slow, name="fuel flow", unit="L/h")])
        file.save(place)
    return place


def test_every_group_has_times_of_its_own(path: Path) -> None:
    log = read_log(path, name="run")
    assert detect(path).key == log.format == "mdf"
    np.testing.assert_allclose(log.channels["engine_speed"].values, 10 + np.arange(50) / 10)
    np.testing.assert_allclose(
        log.channels["engine_speed"].t_s, START_S + np.arange(50) / 10, atol=1e-6
    )
    np.testing.assert_allclose(log.channels["speed"].values * 3600 / 1852, np.arange(50), atol=1e-9)
    np.testing.assert_allclose(log.channels["fuel_flow"].t_s, START_S + np.arange(5), atol=1e-6)
    assert log.counts == {"other_signals": 1}


def test_its_clock_is_the_logger_s_until_the_sheet_says_otherwise(path: Path) -> None:
    assert read_log(path, name="run").clock == "log:run"
    assert read_log(path, settings=LogSettings(clock="utc")).clock == UTC
    later = LogSettings(clock_start=START + dt.timedelta(hours=1))
    log = read_log(path, settings=later)
    assert log.clock == UTC
    assert log.channels["speed"].t_s[0] == pytest.approx(START_S + 3600)


def test_without_asammdf_the_extra_is_named(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda _: None)
    with pytest.raises(LogFormatError, match="need asammdf, which is not installed") as caught:
        read_log(path)
    assert "trialreel[mdf]" in caught.value.advice


def test_an_older_version_and_an_unfinished_file_are_refused_with_a_way_out(
    path: Path, tmp_path: Path
) -> None:
    other = tmp_path / "old"
    data = path.read_bytes()
    other.write_bytes(data[:8] + b"3.30    " + data[16:])
    with pytest.raises(LogFormatError, match="older than version 4"):
        read_log(other)
    other.write_bytes(b"UnFinMF " + data[8:])
    with pytest.raises(LogFormatError, match="never closed"):
        read_log(other)


def test_a_link_that_leads_nowhere_is_found_before_asammdf_sees_it(path: Path) -> None:
    data = path.read_bytes()
    assert mdf.is_whole(data)
    assert not mdf.is_whole(data[: len(data) // 2])
    assert not mdf.is_whole(data[:88] + b"\x77" * 8 + data[96:])


def test_links_in_a_ring_come_to_an_end() -> None:
    """A file whose head links to itself: 64 bytes, then a block of one link to byte 64."""
    ring = b"##HD" + b"\0" * 4 + (32).to_bytes(8, "little") + (1).to_bytes(8, "little")
    assert mdf.is_whole(b"MDF     " + b"\0" * 56 + ring + (64).to_bytes(8, "little"))


def test_what_asammdf_cannot_read_is_one_sentence(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    data = bytearray(SAMPLES["mdf"].data)
    place = -1
    while (place := data.find(b"##CN", place + 1)) >= 0:
        data[place + 88 : place + 160] = b"\xff" * 72
    path = tmp_path / "damaged"
    path.write_bytes(data)
    with pytest.raises(SyncError) as caught:
        read_log(path)
    assert "\n" not in str(caught.value)
    assert capfd.readouterr() == ("", "")


def test_a_file_without_signals_is_empty(tmp_path: Path) -> None:
    path = tmp_path / "empty"
    path.write_bytes(SAMPLES["mdf"].head_data)
    with pytest.raises(EmptyLogError):
        read_log(path)
