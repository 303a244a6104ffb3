"""Whatever the bytes, a reader returns a log or says in one sentence why not, in bounded time."""

from __future__ import annotations

import datetime as dt
import tempfile
from functools import cache
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from log_samples import SAMPLES, rmc, sentence

from sync.errors import SyncError
from sync.log import Log
from sync.readers import READERS, LogSettings, read_log

RECORDINGS = ("asc", "blf", "trc")


@cache
def recording(ending: str) -> bytes:
    """Five engine speeds as python-can writes them."""
    import can

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"run.{ending}"
        with can.Logger(path) as writer:
            for i in range(5):
                frame = bytes([0, 0x92, 0x0C + i, 255, 255, 127, 255, 255])
                writer.on_message_received(
                    can.Message(timestamp=i / 10 + 1.0, arbitration_id=0x09F20003, data=frame)
                )
        return path.read_bytes()


KNOWN = LogSettings(date=dt.date(2026, 6, 11), time_zone="Europe/Helsinki")

bounded_time = settings(
    deadline=2000, max_examples=150, suppress_health_check=[HealthCheck.too_slow]
)

cells = st.one_of(
    st.sampled_from(
        ["", "0", "1.5", "1,5", "-7", "1e300", "nan", "inf", "--", "clap", '"', "a\nb",
         "2026-06-11", "2026-06-11T09:00:00Z", "09:00:00", "12:00", "9999-12-31T23:59:59Z",
         "1781168400", "x" * 50]
    ),
    st.floats().map(str),
    st.text(max_size=6),
)  # fmt: skip
headings = st.sampled_from(
    ["time (s)", "time", "date", "utc", "rpm", "rpm_stbd", "speed (kn)", "speed", "event", "gear",
     "lat", "pitch [deg]", "flow (x)", "", "note", "elapsed (min)"]
)  # fmt: skip
fields = st.sampled_from(
    ["", "A", "V", "N", "T", "090000", "235959.99", "6005.071", "02332.346", "E", "1e300", "nan",
     "110626", "999999", "5.0", "-1", "D", "PITCH", "é", "0" * 40]
)  # fmt: skip
kinds = st.sampled_from(
    ["RMC", "VTG", "GGA", "GLL", "ZDA", "HDT", "HDM", "HDG", "ROT", "VHW", "XDR", "RPM", "GSV"]
)


def survives(data: bytes, known: LogSettings = KNOWN) -> Log | None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log"
        path.write_bytes(data)
        try:
            log = read_log(path, settings=known)
        except SyncError:
            return None
    assert isinstance(log, Log)
    return log


@given(st.binary(max_size=2000))
@bounded_time
def test_any_bytes(data: bytes) -> None:
    survives(data)
    for key in READERS:
        survives(data, LogSettings(format=key, date=KNOWN.date))


@given(st.sampled_from(sorted(SAMPLES.keys() - {"mdf"})), st.data())
@bounded_time
def test_a_sample_with_any_damage(key: str, data: st.DataObject) -> None:
    damage(key, data)


@given(st.data())
@settings(deadline=None, max_examples=8)
def test_a_measurement_data_file_with_any_damage(data: st.DataObject) -> None:
    """Few examples: whatever is not refused at once is read by a process of its own."""
    damage("mdf", data)


def damage(key: str, data: st.DataObject) -> None:
    text = bytearray(SAMPLES[key].data)
    for _ in range(data.draw(st.integers(1, 8))):
        place = data.draw(st.integers(0, len(text)))
        text[place : place + data.draw(st.integers(0, 6))] = data.draw(st.binary(max_size=6))
    survives(bytes(text))


@given(
    st.lists(headings, min_size=2, max_size=6),
    st.lists(st.lists(cells, min_size=1, max_size=7), max_size=12),
    st.sampled_from(",;\t"),
)
@bounded_time
def test_any_table(heads: list[str], rows: list[list[str]], delimiter: str) -> None:
    lines = [delimiter.join(heads), *(delimiter.join(row) for row in rows)]
    survives("\n".join(lines).encode("utf-8", "surrogatepass"))


words = st.sampled_from(
    ["2026-06-11T09:00:00.000Z", "(1781168400.5)", "(0.5)", "can0", "2", "127488", "127489",
     "129029", "126992", "3", "255", "8", "26", "00", "ff", "7f", "09F20003", "0DF80523#", "[8]",
     "#", ",", " ", "09F20003#00920CFFFF7FFFFF", "0CF00400#FFFFFF8A03FFFFFF", "\n", "\n", "R",
     "001A00B706670D0B"]
)  # fmt: skip
rows_of_frames = st.lists(
    st.tuples(
        st.sampled_from([0x09F20003, 0x09F20101, 0x09F01001, 0x0DF80523, 0x0CF00400, 0x19F51323]),
        st.binary(max_size=9),
        st.floats(-1.0, 1e10),
    ),
    max_size=40,
)


@given(st.lists(words, max_size=60), st.sampled_from(["", " ", ","]))
@bounded_time
def test_any_words_of_a_bus(parts: list[str], between: str) -> None:
    survives(between.join(parts).encode(), LogSettings(format="canbus"))


@given(rows_of_frames)
@bounded_time
def test_any_frames(rows: list[tuple[int, bytes, float]]) -> None:
    lines = [f"({t:.6f}) can0 {can_id:08X}#{data.hex()}" for can_id, data, t in rows]
    survives("\n".join(lines).encode(), LogSettings(format="canbus"))
    plain = [
        f"{t:.6f},2,{i >> 8 & 0x1FFFF},{i & 255},255,{len(d)},{d.hex(',')}" for i, d, t in rows
    ]
    survives("\n".join(plain).encode(), LogSettings(format="canbus"))


@given(st.sampled_from(sorted(RECORDINGS)), st.data())
@bounded_time
def test_a_recording_with_any_damage(ending: str, data: st.DataObject) -> None:
    damaged = bytearray(recording(ending))
    for _ in range(data.draw(st.integers(1, 8))):
        place = data.draw(st.integers(0, len(damaged)))
        damaged[place : place + data.draw(st.integers(0, 6))] = data.draw(st.binary(max_size=6))
    survives(bytes(damaged), LogSettings(format="canbus"))


@given(st.lists(st.tuples(kinds, st.lists(fields, max_size=13)), min_size=1, max_size=30))
@bounded_time
def test_any_sentences(parts: list[tuple[str, list[str]]]) -> None:
    bodies = [f"GP{kind},{','.join(body)}" for kind, body in parts]
    lines = [sentence(body) for body in [*bodies, rmc("090000", "5.0")]]
    log = survives("\n".join(lines).encode("utf-8"))
    if log is not None:
        assert log.counts["sentences"] >= 1
