"""Whatever the bytes, a reader returns a log or says in one sentence why not, in bounded time."""

from __future__ import annotations

import datetime as dt
import tempfile
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from log_samples import SAMPLES, rmc, sentence

from sync.errors import SyncError
from sync.log import Log
from sync.readers import READERS, LogSettings, read_log

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


@given(st.sampled_from(sorted(SAMPLES)), st.data())
@bounded_time
def test_a_sample_with_any_damage(key: str, data: st.DataObject) -> None:
    text = bytearray(SAMPLES[key].text.encode())
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


@given(st.lists(st.tuples(kinds, st.lists(fields, max_size=13)), min_size=1, max_size=30))
@bounded_time
def test_any_sentences(parts: list[tuple[str, list[str]]]) -> None:
    bodies = [f"GP{kind},{','.join(body)}" for kind, body in parts]
    lines = [sentence(body) for body in [*bodies, rmc("090000", "5.0")]]
    log = survives("\n".join(lines).encode("utf-8"))
    if log is not None:
        assert log.counts["sentences"] >= 1
