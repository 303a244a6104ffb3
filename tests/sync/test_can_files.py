"""Recordings in ASC, TRC and BLF: written by python-can, and those of its own test suite."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import outside
import pytest
from bus_text import fast

from sync.errors import EmptyLogError, LogFormatError, SyncError
from sync.log import Log
from sync.readers import canbus, detect, read_log
from sync.readers.can_bus import Collector

FRAMES = 50
RPM = [600.0 + 4 * i for i in range(FRAMES)]
FLOW = [5.0 + i / 10 for i in range(0, FRAMES, 5)]


def messages() -> Iterator[tuple[float, int, bytes]]:
    """Engine speed ten times a second and fuel flow twice, from a start in 2026."""
    for i, rpm in enumerate(RPM):
        t = 1781168400.0 + i / 10
        low, high = round(rpm * 4).to_bytes(2, "little")
        yield t, 0x09F20003, bytes([0, low, high, 255, 255, 127, 255, 255])
        if i % 5 == 0:
            slow = bytearray(b"\xff" * 26)
            slow[0] = 0
            slow[9:11] = round(FLOW[i // 5] * 10).to_bytes(2, "little")
            for can_id, text in fast(127489, bytes(slow), counter=i // 5 % 8):
                yield t + 0.01, can_id, bytes.fromhex(text)


def written(path: Path) -> Path:
    """A recording by python-can's writer for the ending of a path."""
    import can

    with can.Logger(path) as writer:
        for t, can_id, data in messages():
            writer.on_message_received(
                can.Message(timestamp=t, arbitration_id=can_id, data=data, is_extended_id=True)
            )
    return path


def nameless(path: Path) -> Path:
    """The same file under a name that tells nothing."""
    return path.rename(path.with_name("recording"))


@pytest.fixture(params=["asc", "trc", "blf", "log"])
def recording(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    return nameless(written(tmp_path / f"run.{request.param}"))


def check(log: Log) -> None:
    """The log holds what `messages` says, its times counted from any start."""
    speed, flow = log.channels["engine_speed"], log.channels["fuel_flow"]
    np.testing.assert_allclose(speed.values * 60, RPM, atol=1e-9)
    np.testing.assert_allclose(flow.values * 3.6e6, FLOW, atol=1e-6)
    np.testing.assert_allclose(speed.t_s - speed.t_s[0], np.arange(FRAMES) / 10, atol=1e-3)
    assert flow.t_s[0] - speed.t_s[0] == pytest.approx(0.01, abs=1e-3)


def test_a_recording_is_known_by_its_content_and_read_whole(recording: Path) -> None:
    assert detect(recording).key == "canbus"
    check(read_log(recording))


def test_its_clock_is_its_own_whatever_zone_this_machine_is_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import time

    path = written(tmp_path / "run.asc")
    starts = []
    for zone in ("UTC", "Pacific/Auckland"):
        monkeypatch.setenv("TZ", zone)
        time.tzset()
        log = read_log(path)
        assert log.clock == "log:run"
        starts.append(log.channels["engine_speed"].t_s[0])
    monkeypatch.undo()
    time.tzset()
    assert starts[0] == starts[1] == pytest.approx(0.0, abs=1e-3)


def test_a_remark_or_a_damaged_line_costs_itself_alone(tmp_path: Path) -> None:
    """python-can's own reader ends at the first line whose bytes are no numbers."""
    for ending in ("asc", "trc"):
        path = written(tmp_path / f"run.{ending}")
        lines = path.read_text().splitlines()
        at = next(i for i, line in enumerate(lines) if "9f20003" in line.lower()) + 8
        remark = "// a remark" if ending == "asc" else "; a remark"
        lines[at:at] = [remark, lines[at].replace(" FF", " GG").replace(" ff", " gg")]
        path.write_text("\n".join(lines) + "\n")
        log = read_log(path)
        check(log)
        assert log.counts["unreadable"] == 1, ending


def test_a_frame_that_broke_off_is_left_out(tmp_path: Path) -> None:
    for ending in ("asc", "trc"):
        path = written(tmp_path / f"run.{ending}")
        lines = path.read_text().splitlines()
        at = max(i for i, line in enumerate(lines) if "9f20003" in line.lower())
        path.write_text("\n".join([*lines[:at], lines[at].rstrip()[:-5]]))
        log = read_log(path)
        assert log.channels["engine_speed"].values.size == FRAMES - 1
        np.testing.assert_allclose(log.channels["engine_speed"].values * 60, RPM[:-1], atol=1e-9)


def test_stamps_that_count_from_the_frame_before_are_added_up(tmp_path: Path) -> None:
    path = tmp_path / "run.asc"
    rows = "".join(
        f"   {0.0 if i == 0 else 0.1:.6f} 1  09F20003x       Rx   d 8 00 92 0C FF FF 7F FF FF\n"
        for i in range(5)
    )
    path.write_text(
        "date Thu Jun 11 09:00:00.000 am 2026\nbase hex  timestamps relative\n"
        "internal events logged\n" + rows
    )
    t = read_log(path).channels["engine_speed"].t_s
    np.testing.assert_allclose(t, np.arange(5) / 10, atol=1e-9)


def test_numbers_may_be_decimal(tmp_path: Path) -> None:
    path = tmp_path / "run.asc"
    path.write_text(
        "date Thu Jun 11 09:00:00.000 am 2026\nbase dec  timestamps absolute\n"
        "internal events logged\n"
        f"   0.100000 1  {0x09F20003}x       Rx   d 8 0 146 12 255 255 127 255 255\n"
    )
    assert read_log(path).channels["engine_speed"].values[0] == pytest.approx(804.5 / 60)


def test_a_blf_recording_that_broke_off_is_read_up_to_there(tmp_path: Path) -> None:
    data = written(tmp_path / "run.blf").read_bytes()
    for end in range(0, len(data), 13):
        path = tmp_path / "cut"
        path.write_bytes(data[:end])
        try:
            log = read_log(path)
        except SyncError:
            continue
        good = log.channels["engine_speed"].values * 60
        np.testing.assert_allclose(good, RPM[: good.size], atol=1e-9)


def test_a_blf_object_of_no_size_does_not_go_round_for_ever(tmp_path: Path) -> None:
    """python-can 4.6.1 reads an unknown object of size 0 again and again."""
    import struct
    import zlib

    data = written(tmp_path / "run.blf").read_bytes()
    at = struct.unpack_from("<L", data, 4)[0]
    endless = struct.pack("<4sHHLL", b"LOBJ", 16, 1, 0, 99) + b"\0" * 64
    packed = struct.pack("<H6xL4x", 2, len(endless)) + zlib.compress(endless)
    box = struct.pack("<4sHHLL", b"LOBJ", 16, 1, 16 + len(packed), 10) + packed
    path = tmp_path / "endless"
    path.write_bytes(data[:at] + box)
    with pytest.raises(LogFormatError, match="no frame"):
        read_log(path)


def test_a_blf_that_inflates_without_bound_is_left(tmp_path: Path) -> None:
    import struct
    import zlib

    data = written(tmp_path / "run.blf").read_bytes()
    at = struct.unpack_from("<L", data, 4)[0]
    packed = struct.pack("<H6xL4x", 2, 0) + zlib.compress(b"\0" * (80 * 2**20), 1)
    box = struct.pack("<4sHHLL", b"LOBJ", 16, 1, 16 + len(packed), 10) + packed
    path = tmp_path / "bomb"
    path.write_bytes(data[:at] + box)
    with pytest.raises(LogFormatError, match="no frame"):
        read_log(path)


SUITE = {
    "logfile.asc": "e3501125412852bdfa62b59dab51dc09009d92a6b1215e7a86f01fc5bef4549b",
    "issue_1256.asc": "0218cd00477436f7bf65e6e5874ec309718fe95e2669c014baa71ee4034d97cb",
    "test_CanMessage_V1_3.trc": "a79c57782b0c570c58a69546fc216ce3f53c67e39d303c1012fab8876eaee8fd",
    "test_CanMessage_V1_0_BUS1.trc": "ec21b29643e6d0fead99024d7fc3a7925759e9f89b74a543d60f4200ea225d56",  # noqa: E501
    "test_CanMessage_V1_1.trc": "f27024d68b5177bd3a1c9f18466cf58b88dfc77ef46d592c0e0935a2b3e381e5",
    "test_CanMessage_V2_1.trc": "9257dc352055a79fb10ab13b645e9cba2ddca9dff726d1ae32ec39d2358716ac",
    "test_CanMessage_V2_0_BUS1.trc": "7e5e713abdfbe3840c00e8dd5d3ccad019212d37575a6ef55149c9f56020fa8f",  # noqa: E501
    "test_CanMessage.blf": "c04d0cb0ed2a34668e643687d9e815e0d5e395746702d2e0b82e286ca6529415",
    "test_CanMessage2.blf": "ef135387f6f5b4bc13c1de2336468cc83f1c346b8d296d2d3b5c82fa4890354a",
    "test_CanFdMessage64.blf": "d6c4551541fd9ce76bc002275e88969d52d5a0e1bb1dd79f16b4e27ac5d1de9c",
}


@pytest.mark.outside
@pytest.mark.parametrize("name", SUITE)
def test_recordings_of_python_can_s_own_suite_are_read_frame_by_frame(name: str) -> None:
    """PyPI python-can 4.6.1, source archive, test/data; counted by python-can's own readers.

    They hold frames of cars and test benches alone, of which no channel can be made.
    """
    from can.io import ASCReader, BLFReader, TRCReader

    path = outside.pypi("python-can", "4.6.1", f"test/data/{name}", SUITE[name], kind="sdist")
    reader = {".asc": ASCReader, ".trc": TRCReader, ".blf": BLFReader}[path.suffix]
    into = Collector()
    canbus.FILES[path.suffix[1:]](path.read_bytes(), {0x100, 60160}, into, path)
    assert into.counts["lines"] == sum(1 for _ in reader(path)) > 0
    assert detect(path).key == "canbus"
    with pytest.raises(EmptyLogError, match="no message of the log gives a value"):
        read_log(path)


def test_nothing_is_written_to_standard_error(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    path = written(tmp_path / "run.trc")
    text = path.read_text()
    path.write_text(text + "   99999 1.0 DT\n")
    logging.getLogger().handlers.clear()
    read_log(path)
    assert capfd.readouterr() == ("", "")
