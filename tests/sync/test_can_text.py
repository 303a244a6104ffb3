"""The forms of text that bus logs come in: stamps, layouts, damage."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import outside
import pytest
from bus_text import START_S, candump, plain, read, value

from sync.clock import UTC
from sync.errors import EmptyLogError, LogFormatError
from sync.readers import LogSettings, detect, read_log
from sync.readers.can_stamps import seconds

RAPID = "00 92 0c ff ff 7f ff ff"
RAPID_ID = 0x09F20003


@pytest.mark.parametrize(
    ("stamp", "wanted"),
    [
        (b"2016-04-09T16:41:09.078Z", 1460220069.078),
        (b"2026-07-26T12:55:52.549432738-07:00", 1785095752.549432738),
        (b"2026-07-26T12:55:57.27352913-07:00", 1785095757.27352913),
        (b"2026-07-26T19:55:52Z", 1785095752.0),
        (b"2026-07-26 19:55:52.5", 1785095752.5),
        (b"2026-07-26-19:55:52.500", 1785095752.5),
        (b"2026-07-27T01:25:52,5+0530", 1785095752.5),
        (b"1502984866.421964", 1502984866.421964),
        (b"0000000000.352000", 0.352),
    ],
)
def test_every_form_of_stamp_is_the_same_instant(stamp: bytes, wanted: float) -> None:
    """Forms of the samples at hand; seconds by the standard library's calendar."""
    assert seconds([stamp])[0] == pytest.approx(wanted, abs=1e-6)
    np.testing.assert_allclose(seconds([stamp, b"2016-04-09T16:41:09.078Z"])[0], wanted, atol=1e-6)


@pytest.mark.parametrize(
    "stamp",
    [
        b"", b"today", b"now", b"2016-13-09T16:41:09.078Z", b"2016-04-31T16:41:09.078Z",
        b"2016-04-09T25:41:09.078Z", b"9999-04-09T16:41:09.078Z", b"1066-04-09T16:41:09.078Z",
        b"NaT", b"16:41:09", b"-5", b"nan", b"inf", b"1e5",
    ],
)  # fmt: skip
def test_what_is_no_stamp_is_no_time_and_harms_no_other(stamp: bytes) -> None:
    sound = b"2016-04-09T16:41:09.078Z"
    found = seconds([sound, stamp, sound])
    assert np.isnan(found[1])
    np.testing.assert_allclose(found[[0, 2]], 1460220069.078, atol=1e-6)


def test_stamps_of_one_form_are_read_as_one_by_one(tmp_path: Path) -> None:
    stamps = [
        f"2026-06-{1 + i % 30:02}T0{i % 10}:00:{i % 60:02}.{i:03}Z".encode() for i in range(999)
    ]
    together = seconds(stamps)
    np.testing.assert_allclose(together, [seconds([stamp])[0] for stamp in stamps], atol=1e-6)


_SCREEN = f"{RAPID_ID:08X}   [8]  00 92 0C FF FF 7F FF FF"

FORMS = {
    "the log's form": f"(1781168400.250000) can0 {RAPID_ID:08X}#00920CFFFF7FFFFF\n",
    "with a direction": f"(1781168400.250000) can0 {RAPID_ID:08X}#00920CFFFF7FFFFF R\n",
    "the screen's form": f" (1781168400.250000)  can0  {_SCREEN}\n",
    "with letters beside it": f" (1781168400.250000)  can0  {_SCREEN}   '........'\n",
    "with a date": f" (2026-06-11 09:00:00.250000)  can0  {_SCREEN}\n",
    "with a direction on the screen": f" (1781168400.250000)  can0  RX - -  {_SCREEN}\n",
    "small letters": f"(1781168400.250000) slcan0 {RAPID_ID:08x}#00920cffff7fffff\n",
}


@pytest.mark.parametrize("form", FORMS)
def test_every_form_of_a_frame_is_the_same_frame(form: str, tmp_path: Path) -> None:
    """The forms that candump of the SocketCAN tools prints (from memory of its options)."""
    log = read(tmp_path, FORMS[form])
    assert value(log, "engine_speed") == pytest.approx(804.5 / 60)
    assert log.channels["engine_speed"].t_s[0] == pytest.approx(START_S + 0.25, abs=1e-6)


def test_frames_of_other_kinds_are_counted_and_left(tmp_path: Path) -> None:
    lines = [
        "# a remark\n",
        "(1781168400.0) can0 123#0102\n",
        "(1781168400.0) can0 09F20003#R\n",
        "(1781168400.0) can0 09F20003##100112233\n",
        "a line of something else\n",
        *(candump(RAPID_ID, RAPID, at_s=i) for i in range(6)),
    ]
    log = read(tmp_path, *lines)
    assert log.counts["other_frames"] == 3
    assert log.counts["other_lines"] == 1
    assert log.channels["engine_speed"].values.size == 6


def test_an_id_with_a_destination_is_of_its_group() -> None:
    """Ids and groups: canboat's notes (18EA00xx is 59904 to address 0), ISO 11783-3."""
    from sync.readers.can_bus import group_of

    assert group_of(0x18EA0023) == 59904
    assert group_of(0x0CF00400) == 61444
    assert group_of(0x18FEF200) == 65266
    assert group_of(0x19F20000) == 127488


def test_a_logger_s_clock_is_its_own_until_the_sheet_says_that_it_is_utc(tmp_path: Path) -> None:
    lines = [plain(127488, RAPID, at_s=i) for i in range(3)]
    log = read(tmp_path, *lines)
    assert log.clock == "log:bus"
    assert log.channels["engine_speed"].t_s[0] == pytest.approx(START_S)
    assert read(tmp_path, *lines, settings=LogSettings(clock="utc")).clock == UTC


def test_seconds_since_a_start_are_put_on_utc_by_that_start(tmp_path: Path) -> None:
    import datetime as dt

    lines = [f"({i}.500000) can0 {RAPID_ID:08X}#00920CFFFF7FFFFF\n" for i in range(3)]
    start = dt.datetime(2026, 6, 11, 9, tzinfo=dt.UTC)
    log = read(tmp_path, *lines, settings=LogSettings(clock_start=start))
    assert log.clock == UTC
    assert log.channels["engine_speed"].t_s[0] == pytest.approx(START_S + 0.5)
    with pytest.raises(LogFormatError, match="counts from its own start"):
        read(tmp_path, *lines, settings=LogSettings(clock="utc"))


def system_time(second: float) -> str:
    """A frame of 126992 on 2026-06-11 at so many seconds after nine, without a stamp."""
    ticks = round((9 * 3600 + second) * 10000).to_bytes(4, "little").hex()
    return candump(0x09F01023, f"ff f0 {(20615).to_bytes(2, 'little').hex()} {ticks}", at_s=None)


def test_a_log_without_stamps_is_timed_by_the_receiver_in_it(tmp_path: Path) -> None:
    """2026-06-11 is day 20615. Nine frames stand between two seconds, evenly."""
    lines = []
    for second in range(4):
        lines.append(system_time(second))
        lines += [candump(RAPID_ID, RAPID, at_s=None)] * 9
    log = read(tmp_path, *lines)
    assert log.clock == UTC
    t = log.channels["engine_speed"].t_s - START_S
    np.testing.assert_allclose(t[:9], np.arange(1, 10) / 10, atol=1e-3)
    assert t.size == 27, "behind the last second there is no time"
    assert log.counts["untimed"] == 9
    assert log.channels["engine_speed"].delay_sd_s == pytest.approx(1 / 12**0.5)
    assert any("has no stamps" in warning for warning in log.warnings)
    assert log.clock_readings == ()


def test_a_log_without_stamps_has_no_times_where_the_receiver_was_silent(tmp_path: Path) -> None:
    frame = [candump(RAPID_ID, RAPID, at_s=None)] * 9
    lines = [
        system_time(0),
        *frame,
        system_time(1),
        *frame,
        system_time(30),
        *frame,
        system_time(31),
    ]
    t = read(tmp_path, *lines).channels["engine_speed"].t_s - START_S
    assert not np.any((t > 1.05) & (t < 29.95))
    assert t.size == 18


def test_a_log_without_stamps_or_a_receiver_is_refused_with_a_way_out(tmp_path: Path) -> None:
    with pytest.raises(EmptyLogError, match="neither stamps nor a receiver's time") as caught:
        read(tmp_path, *[candump(RAPID_ID, RAPID, at_s=None)] * 5)
    assert "time stamps" in caught.value.advice


def test_a_length_that_does_not_fit_is_a_cut_line(tmp_path: Path) -> None:
    lines = [plain(127488, RAPID, at_s=i) for i in range(4)]
    lines[1] = lines[1].replace(",8,", ",9,")
    lines[2] = lines[2].replace(",8,", ",x,")
    log = read(tmp_path, *lines)
    assert log.channels["engine_speed"].values.size == 2
    assert (log.counts["cut"], log.counts["unreadable"]) == (1, 1)
    assert set(log.warnings) == {"1 line could not be read", "1 line broke off"}


def test_time_that_runs_backwards_is_a_break_and_told(tmp_path: Path) -> None:
    later = [plain(127488, RAPID, at_s=20 + i / 10) for i in range(20)]
    earlier = [plain(127488, RAPID, at_s=i / 10) for i in range(15)]
    log = read(tmp_path, *later, *earlier)
    t = log.channels["engine_speed"].t_s
    assert t.size == 35
    assert np.all(np.diff(t) > 0)
    assert log.counts["breaks"] == 1
    assert "time runs backwards 1 time, first near line 21" in log.warnings[0]


def test_a_log_in_no_order_at_all_is_refused_with_its_name(tmp_path: Path) -> None:
    lines = [plain(127488, RAPID, at_s=5.0 * (i % 3) + i / 100) for i in range(900)]
    with pytest.raises(LogFormatError, match="time runs backwards") as caught:
        read(tmp_path, *lines)
    assert caught.value.path is not None


def test_a_format_that_the_sheet_states_wrongly_is_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "table.csv"
    path.write_text("time (s),rpm\n0,600\n1,660\n")
    with pytest.raises(LogFormatError, match="no log of a CAN bus"):
        read_log(path, settings=LogSettings(format="canbus"))


def test_a_table_of_bytes_is_no_table(tmp_path: Path) -> None:
    """Lines of messages have as many commas as any table; detection must not waver."""
    path = tmp_path / "bus"
    path.write_text("".join(plain(127489, "ff" * 26, at_s=i) for i in range(9)))
    assert detect(path).key == "canbus"


@pytest.mark.parametrize(
    "name",
    ["boatkit-yanmar-controls.raw", "pgn127489.txt", "candump-fast.txt"],
)
def test_samples_of_canboat_are_known_by_their_content(name: str) -> None:
    assert detect(outside.given("n2k", name)).key == "canbus"


def test_a_control_head_in_another_zone(tmp_path: Path) -> None:
    """boatkit-yanmar-controls.raw: 12:55:52.636298826-07:00, engines at 1283.25 and 1262.25 rpm.

    1262.25 is 0x13b9 quarters; the second engine's boost is 0x50 × 100 Pa and its gear ahead.
    """
    log = read_log(outside.given("n2k", "boatkit-yanmar-controls.raw"))
    assert value(log, "engine_speed") == pytest.approx(1283.25 / 60)
    assert value(log, "engine_speed.1") == pytest.approx(1262.25 / 60)
    assert value(log, "boost_pressure.1") == 8000.0
    assert value(log, "gear.1") == 1.0
    assert log.channels["engine_speed"].t_s[0] == pytest.approx(1785095752.636298826, abs=1e-6)


def test_ten_messages_with_a_low_battery() -> None:
    """pgn127489.txt: from canboat's samples; 0x0357 and 0x03a2 hundredths of a volt and so on."""
    log = read_log(outside.given("n2k", "pgn127489.txt"))
    volts = [8.55, 8.55, 8.40, 8.40, 9.30, 9.35, 9.35, 9.35, 9.30, 9.30]
    np.testing.assert_allclose(log.channels["voltage"].values, volts, atol=1e-9)
    assert "engine_load" not in log.channels, "0x7E is an error code"
    assert "engine_torque" not in log.channels
