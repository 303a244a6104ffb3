"""Messages of several frames: the fast-packet rules, and what damages them.

The cases are those of canboat's recombine tests (analyzer/tests/recombine-frames.in at
01d0dc3dd243): in order with others between, two groups interleaved, out of order, frames
lost and all sent again, the first frame lost and all sent again.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import outside
import pytest
from bus_text import candump, fast, plain, read, value

from sync.errors import EmptyLogError
from sync.log import Log
from sync.units import to_si

ENGINE = bytes.fromhex("00b706670d0b86ba042600105f090000008f027f0000007f7fff")[:26]
TRIP = bytes.fromhex("e0090100ff7fff7fff7f")[:9]
POSITION = (
    "C02B7E9A4770F82F", "C126000CD1EF4598", "C2E505007EC29403", "C3A829F6C0B67702",
    "C40000000023FC0A", "C55A00A000EEF3FF", "C6FF00FFFFFFFFFF",
)  # fmt: skip


def engine(flow: int, *, instance: int = 0, counter: int = 3, source: int = 1) -> list[str]:
    """Candump lines of PGN 127489 with a fuel rate in tenths of a litre an hour, no stamps."""
    data = bytearray(ENGINE)
    data[0] = instance
    data[9:11] = flow.to_bytes(2, "little")
    return [
        f"vcan0 {i:08X}#{text.upper()}\n"
        for i, text in fast(127489, bytes(data), source=source, counter=counter)
    ]


def at(lines: list[str], *times: float) -> list[str]:
    """Lines with stamps; a single time is that of the first, a millisecond from one to the next."""
    if len(times) == 1:
        times = tuple(times[0] + i / 1000 for i in range(len(lines)))
    return [f"({t + 1781168400:.6f}) {line}" for t, line in zip(times, lines, strict=True)]


def flows(log: Log, key: str = "fuel_flow") -> list[float]:
    """Fuel flow in L/h, to a thousandth."""
    return [round(v / to_si(1.0, "L/h"), 3) for v in log.channels[key].values]


def test_frames_in_order_make_one_message(tmp_path: Path) -> None:
    log = read(tmp_path, *at(engine(38), 0.0))
    assert flows(log) == [3.8]
    assert value(log, "engine_hours") == 614160.0
    assert log.counts["messages"] == 1


def test_its_time_is_that_of_its_first_frame(tmp_path: Path) -> None:
    log = read(tmp_path, *at(engine(38), 5.0, 5.1, 5.2, 5.3))
    assert log.channels["fuel_flow"].t_s[0] == pytest.approx(1781168405.0, abs=1e-6)


def test_frames_of_others_between_do_no_harm(tmp_path: Path) -> None:
    other = candump(0x09F8052B, "00 01 02 03 04 05 06 07", at_s=0.0015)
    frames = at(engine(38), 0.0)
    log = read(tmp_path, *frames[:2], other, *frames[2:])
    assert flows(log) == [3.8]


def test_two_groups_and_two_senders_may_interleave(tmp_path: Path) -> None:
    trip = [f"vcan0 {i:08X}#{t.upper()}\n" for i, t in fast(127497, TRIP, source=1, counter=3)]
    rows = zip(engine(38), engine(35, instance=1, source=2), [*trip, "\n", "\n"], strict=True)
    lines = [line for row in rows for line in row if line.strip()]
    log = read(tmp_path, *at(lines, 0.0))
    assert flows(log) == [3.8]
    assert flows(log, "fuel_flow.1") == [3.5]
    assert value(log, "trip_fuel.224") == pytest.approx(to_si(265.0, "L"))


@pytest.mark.parametrize("order", [(0, 2, 1, 3), (1, 0, 2, 3), (2, 1, 0, 3), (0, 3, 2, 1)])
def test_frames_out_of_order_make_the_same_message(order: tuple[int, ...], tmp_path: Path) -> None:
    frames = engine(38)
    assert flows(read(tmp_path, *at([frames[i] for i in order], 0.0))) == [3.8]


def test_frames_lost_and_all_sent_again_make_one_message(tmp_path: Path) -> None:
    frames = engine(38)
    log = read(tmp_path, *at([frames[0], frames[2], *frames], 0.0))
    assert flows(log) == [3.8]


def test_a_lost_first_frame_does_not_glue_the_old_body_to_a_new_head(tmp_path: Path) -> None:
    """The old message says 3.8 L/h in its second frame, the one sent after it 9.9."""
    log = read(tmp_path, *at([*engine(38)[1:], *engine(99)], 0.0))
    assert flows(log) == [9.9]


def test_the_head_of_one_and_the_tail_of_a_later_one_are_two_messages(tmp_path: Path) -> None:
    """The counter comes round: the same one a second later belongs to another message."""
    log = read(tmp_path, *at(engine(38)[:2], 0.0), *at(engine(99)[2:], 1.0), *at(engine(50), 2.0))
    assert flows(log) == [5.0]
    assert log.counts["broken_packets"] == 2
    assert "2 messages of several frames lacked a frame" in log.warnings


def test_without_stamps_they_are_told_apart_by_what_lies_between(tmp_path: Path) -> None:
    def clock(second: int) -> str:
        ticks = (second * 10000).to_bytes(4, "little").hex()
        return candump(0x09F01001, f"ff f0 5050{ticks}", at_s=None)

    others = [candump(0x09F10DCC, "fc fc eb ff e3 ff ff ff", at_s=None)] * 300
    lines = [clock(1), *engine(38)[:2], *others, clock(2), *others, *engine(99)[2:], clock(3)]
    log = read(tmp_path, *lines)
    assert "fuel_flow" not in log.channels
    assert "rudder" in log.channels


@pytest.mark.parametrize("twice", [0, 1, 3])
def test_a_frame_that_comes_twice_is_one_frame(twice: int, tmp_path: Path) -> None:
    frames = engine(38)
    log = read(tmp_path, *at([*frames[: twice + 1], *frames[twice:]], 0.0))
    assert flows(log) == [3.8]


def test_a_message_that_breaks_off_gives_nothing(tmp_path: Path) -> None:
    with pytest.raises(EmptyLogError):
        read(tmp_path, *at(engine(38)[:3], 0.0))


def test_a_frame_that_is_short_does_not_shift_the_rest(tmp_path: Path) -> None:
    frames = engine(38)
    cut = frames[1].strip()[:-4] + "\n"
    with pytest.raises(EmptyLogError):
        read(tmp_path, *at([frames[0], cut, *frames[2:]], 0.0))


def test_a_position_of_seven_frames(tmp_path: Path) -> None:
    """Bytes and values: canboatjs test/pgns/129029.js at c584d7038aa2, 2020-03-09 17:47:47.8."""
    log = read(
        tmp_path, *(candump(0x0DF80523, text, at_s=i / 1000) for i, text in enumerate(POSITION))
    )
    assert value(log, "latitude") == pytest.approx(42.4913166, abs=1e-6)
    assert value(log, "longitude") == pytest.approx(-70.8850733, abs=1e-6)
    assert value(log, "altitude") == pytest.approx(41.4, abs=1e-3)
    (reading,) = log.clock_readings
    assert reading.t_utc_s == pytest.approx(1583776067.8, abs=1e-3)
    assert reading.source == "PGN 129029 from 35"


def test_frames_may_stand_as_plain_text_lines_too(tmp_path: Path) -> None:
    lines = [
        plain(129029, text, at_s=i / 1000, source=35, priority=3) for i, text in enumerate(POSITION)
    ]
    assert value(read(tmp_path, *lines), "latitude") == pytest.approx(42.4913166, abs=1e-6)


def test_two_engines_in_a_sample_of_canboat(tmp_path: Path) -> None:
    """samples/candump-fast.txt: 3.8, 3.6 and 3.5 L/h, and 3.5 and 3.3; the last is cut."""
    log = read(tmp_path, outside.given("n2k", "candump-fast.txt").read_text())
    assert flows(log) == [3.8, 3.6, 3.5]
    assert flows(log, "fuel_flow.1") == [3.5, 3.3]
    assert log.counts["broken_packets"] == 1
    first = {key: channel.values[0] for key, channel in log.channels.items()}
    assert first["oil_pressure"] == 171900.0
    assert first["oil_temperature"] == pytest.approx(343.1)
    assert first["engine_temperature"] == pytest.approx(343.15)
    assert first["voltage"] == pytest.approx(12.10)
    assert first["fuel_pressure"] == 655000.0
    assert first["oil_pressure.1"] == 191900.0
    assert first["engine_temperature.1"] == pytest.approx(341.15)
    assert first["engine_hours.1"] == 641340.0
    assert not {"engine_load", "engine_torque"} & first.keys()
    assert log.clock == "log:bus"
    np.testing.assert_allclose(log.channels["fuel_flow"].t_s, [0.352, 0.856, 1.404], atol=1e-6)
