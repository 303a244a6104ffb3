"""A log that is kept is the log that was read, or it is read again."""

from __future__ import annotations

import dataclasses
import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from log_samples import SAMPLES

from sync import log_cache
from sync.cache_folder import keep_last
from sync.channel import Channel
from sync.channel_kinds import CHANNELS
from sync.errors import LogError
from sync.log import Log, Mark
from sync.log_cache import kept_log
from sync.readers import LogSettings, read_log

TABLE = "time_utc,speed (kn),event\n" + "".join(
    f"2026-06-11T09:00:0{i}Z,{10 + i},{'clap' if i == 4 else ''}\n" for i in range(8)
)


class Reading:
    """A reader that counts how often it is asked."""

    def __init__(self, path: Path, settings: LogSettings | None = None, name: str = "it") -> None:
        self.path, self.settings, self.name, self.times = path, settings, name, 0

    def __call__(self) -> Log:
        self.times += 1
        return read_log(self.path, name=self.name, settings=self.settings)

    def kept(self, **asked: object) -> Log:
        return kept_log(self.path, self.name, asked, self)


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "engine.csv"
    path.write_text(TABLE)
    return path


def cache_files(tmp_path: Path) -> list[Path]:
    return sorted((tmp_path / "cache" / "logs").iterdir())


def same_channel(one: Channel, other: Channel) -> bool:
    """Whether two agree to the last bit, in everything that they are made of."""
    for fact in dataclasses.fields(Channel):
        if fact.init and not np.array_equal(
            getattr(one, fact.name),
            getattr(other, fact.name),
            equal_nan=fact.name == "values",
        ):
            return False
    return True


@pytest.mark.parametrize("key", list(SAMPLES))
def test_a_kept_log_is_the_log_that_was_read(key: str, tmp_path: Path) -> None:
    """Of every format, to the last bit and in every fact; and its rows cannot be written to."""
    path = tmp_path / "log"
    path.write_bytes(SAMPLES[key].data)
    reading = Reading(path, SAMPLES[key].settings)
    first, second = reading.kept(), reading.kept()
    assert reading.times == 1
    assert first.channels.keys() == second.channels.keys()
    for channel in first.channels:
        assert same_channel(first.channels[channel], second.channels[channel]), channel
        assert not second.channels[channel].values.flags.writeable
    for fact in dataclasses.fields(Log):
        if fact.name != "channels":
            assert getattr(first, fact.name) == getattr(second, fact.name), fact.name


def test_marks_and_readings_and_holes_come_back(table: Path) -> None:
    reading = Reading(table)
    reading.kept()
    (mark,) = reading.kept().marks
    assert isinstance(mark, Mark)
    assert (mark.label, reading.times) == ("clap", 1)


@pytest.mark.parametrize(
    "change",
    [
        lambda path: path.write_text(TABLE.replace(",13,", ",14,")),
        lambda path: path.write_text(TABLE + "2026-06-11T09:00:08Z,18,\n"),
    ],
    ids=["one digit", "one more row"],
)
def test_a_log_that_was_edited_is_read_again(table: Path, change: Callable[[Path], object]) -> None:
    """However it is dated: one digit is changed, size and time of change are what they were."""
    reading, dated = Reading(table), table.stat()
    before = reading.kept()
    change(table)
    os.utime(table, ns=(dated.st_atime_ns, dated.st_mtime_ns))
    after = reading.kept()
    assert reading.times == 2
    speeds = before.channels["speed"].values.tolist(), after.channels["speed"].values.tolist()
    assert speeds[0] != speeds[1]


def test_another_setting_or_name_is_read_for_itself(table: Path) -> None:
    reading = Reading(table)
    reading.kept(clock=None)
    reading.kept(clock="own")
    assert reading.times == 2
    other = Reading(table, name="other")
    assert other.kept(clock=None).name == "other"
    assert other.times == 1


def test_a_mended_reader_reads_again(table: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    reading = Reading(table)
    reading.kept()
    monkeypatch.setattr(log_cache, "_program", lambda: "another program")
    reading.kept()
    assert reading.times == 2


def test_the_program_is_known_by_its_readers_source() -> None:
    assert log_cache._program() == log_cache._program()
    assert len(log_cache._program()) == 64


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9])
def test_a_kept_log_that_was_cut_short_is_read_again(
    table: Path, tmp_path: Path, share: float
) -> None:
    reading = Reading(table)
    first = reading.kept()
    (file,) = cache_files(tmp_path)
    data = file.read_bytes()
    file.write_bytes(data[: int(len(data) * share)])
    again = reading.kept()
    assert reading.times == 2
    assert same_channel(first.channels["speed"], again.channels["speed"])
    reading.kept()
    assert reading.times == 2


def test_a_flipped_bit_anywhere_changes_no_value(table: Path, tmp_path: Path) -> None:
    """Either it is noticed and the log is read again, or it stood where no value stands."""
    reading = Reading(table)
    first = reading.kept()
    (file,) = cache_files(tmp_path)
    data = file.read_bytes()
    for place in range(0, len(data), 7):
        file.write_bytes(data[:place] + bytes([data[place] ^ 0x10]) + data[place + 1 :])
        log = reading.kept()
        assert log.channels.keys() == first.channels.keys()
        assert same_channel(log.channels["speed"], first.channels["speed"]), place
        assert log.marks == first.marks
    assert reading.times > 10


def test_what_something_else_wrote_there_is_not_believed(table: Path, tmp_path: Path) -> None:
    reading = Reading(table)
    reading.kept()
    (file,) = cache_files(tmp_path)
    for strange in ({"facts": np.array("[]")}, {"facts": np.array("{}")}, {"other": np.zeros(3)}):
        with file.open("wb") as stream:
            np.savez(stream, **strange)
        assert reading.kept().channels["speed"].values.size == 8
    with file.open("wb") as stream:
        np.savez(stream, facts=np.array([{"a": 1}], dtype=object))
    assert reading.kept().channels["speed"].values.size == 8
    assert reading.times == 5


def test_a_cache_that_cannot_be_written_costs_time_and_nothing_else(
    table: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    blocked = tmp_path / "blocked"
    blocked.write_text("a file, where a folder should be")
    monkeypatch.setenv("TRIALREEL_CACHE", str(blocked))
    reading = Reading(table)
    assert reading.kept().channels["speed"].values.size == 8
    assert reading.kept().channels["speed"].values.size == 8
    assert reading.times == 2


def test_a_log_that_grew_while_it_was_read_is_not_kept(table: Path, tmp_path: Path) -> None:
    def read() -> Log:
        log = read_log(table)
        table.write_text(TABLE + "2026-06-11T09:00:08Z,18,\n")
        return log

    kept_log(table, "it", {}, read)
    assert not (tmp_path / "cache" / "logs").exists()


def test_a_log_that_cannot_be_used_says_so_each_time(tmp_path: Path) -> None:
    path = tmp_path / "empty.csv"
    path.write_text("")
    reading = Reading(path)
    for _ in range(2):
        with pytest.raises(LogError, match="empty"):
            reading.kept()
    with pytest.raises(LogError, match="cannot be read"):
        Reading(tmp_path / "nowhere.csv").kept()
    assert reading.times == 2


def test_the_oldest_go_when_there_are_too_many_or_too_large(tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    folder.mkdir()
    for age in range(6):
        file = folder / f"{age}.npz"
        file.write_bytes(b"x" * 100)
        os.utime(file, (1e9 - age, 1e9 - age))
    keep_last(folder, most=4, most_bytes=10_000)
    assert sorted(file.stem for file in folder.iterdir()) == ["0", "1", "2", "3"]
    keep_last(folder, most=4, most_bytes=250)
    assert sorted(file.stem for file in folder.iterdir()) == ["0", "1"]


def test_every_channel_fact_can_be_kept(tmp_path: Path) -> None:
    """Whatever its name, its doubt unknown, its values partly missing."""
    source = tmp_path / "source"
    source.write_text("x")
    values = np.array([1.0, np.nan, 2.0])
    channels = {
        name: Channel(
            name=name,
            t_s=np.array([0.0, 0.1, 0.3]) + place,
            values=values,
            clock="log:it",
            instance=1,
            delay_s=0.1 + 0.2,
            delay_sd_s=float("inf"),
            source=f"column of {name}, °",
            means="differenced",
            max_gap_s=1 / 3,
        )
        for place, name in enumerate(CHANNELS)
    }
    made = Log(
        name="it",
        path=source,
        format="delimited",
        clock="log:it",
        channels=channels,
        counts={"rows": np.int64(3)},  # type: ignore[dict-item]  # a slip of a reader
    )
    kept_log(source, "it", {}, lambda: made)

    def unread() -> Log:
        raise AssertionError("it is kept")

    again = kept_log(source, "it", {}, unread)
    assert again.counts == {"rows": 3}
    for name, channel in channels.items():
        assert same_channel(channel, again.channels[name]), name
