"""What holds for every reader, whatever its format."""

from __future__ import annotations

import pickle
from pathlib import Path

import numpy as np
import pytest
from log_samples import SAMPLES, Sample

from sync.channel_kinds import CHANNELS
from sync.errors import EmptyLogError, LogFormatError, SyncError
from sync.log import Log
from sync.readers import KNOWN_UNSUPPORTED, READERS, LogSettings, detect, read_log


@pytest.fixture(params=list(READERS))
def key(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def sample(key: str) -> Sample:
    return SAMPLES[key]


@pytest.fixture(params=[key for key, one in SAMPLES.items() if one.binary is None])
def text_sample(request: pytest.FixtureRequest) -> Sample:
    """A sample of a format that is text."""
    return SAMPLES[request.param]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "a log.without-a-telling-name"


def read(path: Path, data: bytes | str, settings: LogSettings | None = None) -> Log:
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return read_log(path, name="it", settings=settings)


def test_every_reader_has_a_sample_and_every_sample_a_reader() -> None:
    assert SAMPLES.keys() == READERS.keys()
    assert all(reader.key == key for key, reader in READERS.items())


def test_a_sample_is_known_by_its_content_alone(key: str, sample: Sample, path: Path) -> None:
    path.write_bytes(sample.data)
    assert detect(path).key == key


def test_a_sample_is_claimed_by_one_reader(sample: Sample) -> None:
    claims = [key for key, reader in READERS.items() if reader.claims(sample.data)]
    assert len(claims) == 1


def test_a_sample_gives_its_values(key: str, sample: Sample, path: Path) -> None:
    log = read(path, sample.data, sample.settings)
    channel = log.channels[sample.channel]
    np.testing.assert_allclose(channel.values, sample.values, rtol=1e-9)
    assert log.format == key
    assert log.name == "it"
    assert log.warnings == ()


def test_every_channel_is_on_the_clock_of_its_log(sample: Sample, path: Path) -> None:
    log = read(path, sample.data, sample.settings)
    assert {channel.clock for channel in log.channels.values()} == {log.clock}
    assert all(channel.name in CHANNELS for channel in log.channels.values())
    assert all(channel.key == name for name, channel in log.channels.items())


def test_values_and_times_cannot_be_written_to(sample: Sample, path: Path) -> None:
    channel = read(path, sample.data, sample.settings).channels[sample.channel]
    with pytest.raises(ValueError, match="read-only"):
        channel.values[0] = 1.0
    with pytest.raises(ValueError, match="read-only"):
        channel.t_s[0] = 1.0


def test_an_empty_file_is_said_to_be_empty(path: Path) -> None:
    for data in (b"", b"\n \n", b"\xef\xbb\xbf", b"\0" * 64):
        with pytest.raises(EmptyLogError, match="the file is empty"):
            read(path, data)


def test_a_head_without_values_is_an_empty_log(sample: Sample, path: Path) -> None:
    with pytest.raises(EmptyLogError):
        read(path, sample.head_data, sample.settings)


def test_a_cut_last_line_costs_that_line_alone(text_sample: Sample, path: Path) -> None:
    """Wherever the log breaks off, no value is shown that is not in the whole log."""
    whole = text_sample.values
    last = text_sample.text.rstrip("\n").rindex("\n") + 1
    for end in range(last, len(text_sample.text)):
        log = read(path, text_sample.text[:end], text_sample.settings)
        values = log.channels[text_sample.channel].values
        good = values[np.isfinite(values)]
        assert good.size in (len(whole) - 1, len(whole))
        np.testing.assert_allclose(good, whole[: good.size], rtol=1e-9)


def test_bytes_that_break_off_give_no_value_that_was_not_there(sample: Sample, path: Path) -> None:
    """A file of bytes is read up to where it breaks off, or refused in one sentence."""
    whole, data = sample.values, sample.data
    for end in range(16, len(data), max(len(data) // 60, 1)):
        try:
            log = read(path, data[:end], sample.settings)
        except SyncError:
            continue
        values = log.channels[sample.channel].values
        good = values[np.isfinite(values)]
        np.testing.assert_allclose(good, whole[: good.size], rtol=1e-9)


def test_other_line_ends_change_nothing(text_sample: Sample, path: Path) -> None:
    plain = read(path, text_sample.text, text_sample.settings).channels[text_sample.channel]
    windows = read(path, text_sample.text.replace("\n", "\r\n"), text_sample.settings)
    assert plain.almost_equal(windows.channels[text_sample.channel])
    assert windows.warnings == ()


def test_a_byte_order_mark_changes_nothing(text_sample: Sample, path: Path) -> None:
    plain = read(path, text_sample.text, text_sample.settings).channels[text_sample.channel]
    marked = read(path, b"\xef\xbb\xbf" + text_sample.text.encode(), text_sample.settings)
    assert plain.almost_equal(marked.channels[text_sample.channel])


def test_bytes_that_are_no_utf8_cost_their_own_line_at_most(
    text_sample: Sample, path: Path
) -> None:
    lines = text_sample.text.encode().splitlines(keepends=True)
    middle = len(lines) // 2
    data = b"".join([*lines[:middle], b"\xff\xfe\xe9\x81\n", *lines[middle:]])
    values = read(path, data, text_sample.settings).channels[text_sample.channel].values
    np.testing.assert_allclose(values, text_sample.values, rtol=1e-9)


def test_a_repeated_line_is_left_out_and_counted(text_sample: Sample, path: Path) -> None:
    lines = text_sample.text.splitlines(keepends=True)
    log = read(path, "".join([*lines[:3], lines[2], *lines[3:]]), text_sample.settings)
    np.testing.assert_allclose(
        log.channels[text_sample.channel].values, text_sample.values, rtol=1e-9
    )
    assert {n for key, n in log.counts.items() if key.startswith("repeated")} == {1}


def test_a_log_may_be_put_on_a_clock_of_its_own(sample: Sample, path: Path) -> None:
    path.write_bytes(sample.data)
    log = read_log(path, name="it", settings=LogSettings(clock="own", date=sample.settings.date))
    assert log.clock == "log:it"


def test_a_log_in_gps_time_is_put_on_utc(key: str, sample: Sample, path: Path) -> None:
    """GPS time is 18 s ahead of UTC since 2017-01-01 (IERS Bulletin C)."""
    path.write_bytes(sample.data)
    if key in ("delimited", "parquet"):  # these samples count seconds from their start
        with pytest.raises(LogFormatError, match="cannot be on UTC"):
            read_log(path, settings=LogSettings(clock="gps"))
        return
    utc = read_log(path, settings=LogSettings(clock="utc")).channels[sample.channel]
    gps = read_log(path, settings=LogSettings(clock="gps")).channels[sample.channel]
    assert gps.clock == "utc"
    np.testing.assert_allclose(utc.t_s - gps.t_s, 18.0, atol=1e-6)


def test_a_missing_file_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(LogFormatError, match="cannot be read"):
        read_log(tmp_path / "nowhere.csv")
    with pytest.raises(LogFormatError, match="cannot be read"):
        read_log(tmp_path)


def test_an_error_says_where_and_pickles(path: Path) -> None:
    with pytest.raises(LogFormatError) as caught:
        read(path, "a text without any table, or\nsentence in it\n")
    again = pickle.loads(pickle.dumps(caught.value))
    assert str(path) in str(again)
    assert "NMEA 0183" in str(again)
    assert "\n" not in str(again)


@pytest.mark.parametrize("known", KNOWN_UNSUPPORTED, ids=lambda entry: entry.text[:20])
def test_known_formats_that_are_not_read_come_with_a_way_out(known: object, path: Path) -> None:
    offset, signature = known.offset, known.signature  # type: ignore[attr-defined]
    with pytest.raises(LogFormatError, match="which is not read") as caught:
        read(path, b"\x01" * offset + signature + b"\x02" * 100)
    assert caught.value.advice


def test_a_real_zip_and_a_real_gzip_are_refused(path: Path) -> None:
    import gzip
    import zipfile

    with zipfile.ZipFile(path, "w") as box:
        box.writestr("xl/workbook.xml", "<workbook/>")
    with pytest.raises(LogFormatError, match="spreadsheet"):
        read_log(path)
    with pytest.raises(LogFormatError, match="gzip"):
        read(path, gzip.compress(SAMPLES["nmea0183"].text.encode()))


def test_a_file_that_two_readers_claim_is_refused_until_the_sheet_decides(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from sync import readers
    from sync.readers.base import Reader

    reader = READERS["delimited"]
    greedy = Reader(key="greedy", text="anything", claims=bool, read=reader.read)
    monkeypatch.setattr(readers, "READERS", {**READERS, "greedy": greedy})
    sample = SAMPLES["delimited"]
    with pytest.raises(LogFormatError, match=r"the file could be .* or anything") as caught:
        read(path, sample.text)
    assert caught.value.allowed == ("delimited", "greedy")
    assert read(path, sample.text, LogSettings(format="delimited")).format == "delimited"


def test_the_recipe_for_a_new_reader_works(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The steps of `sync/readers/base.py`, taken for a format of nothing but engine speeds."""
    from sync import readers
    from sync.channel import Channel
    from sync.readers.base import Reader, bounded, read_bytes
    from sync.readers.order import increasing

    def claims(head: bytes) -> bool:
        return head.startswith(b"REVS 1\n")

    def read_revs(path: Path, name: str, settings: LogSettings) -> Log:
        pairs = np.array([line.split() for line in read_bytes(path).splitlines()[1:]], dtype=float)
        order = increasing(pairs[:, 0])
        values, spikes = bounded(pairs[order.take, 1] / 60, "engine_speed")
        clock = settings.clock_name(name, implied="own")
        channel = Channel(name="engine_speed", t_s=pairs[order.take, 0], values=values, clock=clock)
        return Log(
            name=name, path=path, format="revs", clock=clock,
            channels={channel.key: channel},
            counts={"spikes": spikes, "repeated": order.repeated},
        )  # fmt: skip

    revs = Reader(key="revs", text="revs", claims=claims, read=read_revs)
    monkeypatch.setattr(readers, "READERS", {**READERS, "revs": revs})
    log = read(path, "REVS 1\n0.0 600\n0.1 660\n0.1 660\n0.2 99999\n")
    assert log.clock == "log:it"
    assert log.counts == {"spikes": 1, "repeated": 1}
    np.testing.assert_allclose(log.channels["engine_speed"].values, [10, 11, np.nan])


def test_settings_that_cannot_be_meant_are_refused() -> None:
    import datetime as dt

    with pytest.raises(SyncError, match="clock"):
        LogSettings(clock="tai")
    with pytest.raises(SyncError, match="dates of its own"):
        LogSettings(clock="gps", clock_start=dt.datetime(2026, 6, 11, tzinfo=dt.UTC))
    with pytest.raises(SyncError, match="no time zone"):
        LogSettings(clock_start=dt.datetime(2026, 6, 11))  # noqa: DTZ001
