"""Logs read a second time: the same samples as the product has, by other ways."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest
from log_samples import SAMPLES, nmea, rmc, sentence
from sailed import logged, sailed, write_trial

from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.logs import read_log
from overlay.audit.recompute.sheet import LogEntry, Sheet, instant, quantity, read_sheet
from sync.log import Log
from sync.readers import LogSettings
from sync.readers import read_log as product_reads

DATE = dt.date(2026, 6, 11)


def sheet_of(folder: Path, settings: LogSettings) -> Sheet:
    text = 'schema = "trial/1"\n'
    if settings.date is not None:
        text += f"date = {settings.date}\n"
    if settings.time_zone is not None:
        text += f'time_zone = "{settings.time_zone}"\n'
    (folder / "trial.toml").write_text(text)
    return read_sheet(folder / "trial.toml")


def entry_of(path: Path, settings: LogSettings) -> LogEntry:
    start = settings.clock_start
    return LogEntry(
        name="a log",
        path=path,
        clock=settings.clock,
        clock_start_s=None if start is None else start.timestamp(),
        columns=settings.columns,
        format=settings.format,
    )


def both(path: Path, settings: LogSettings) -> tuple[Log, dict, bool]:
    theirs = product_reads(path, name="a log", settings=settings)
    ours, on_utc = read_log(entry_of(path, settings), sheet_of(path.parent, settings))
    return theirs, ours, on_utc


def same(theirs: Log, ours: dict, on_utc: bool) -> int:
    """All channels alike, to the last bits; how many there are."""
    assert ours.keys() == theirs.channels.keys()
    assert on_utc == (theirs.clock == "utc")
    for key, channel in theirs.channels.items():
        good = np.isfinite(channel.values)
        assert np.allclose(ours[key].t_s, channel.t_s[good], rtol=0, atol=5e-7)
        assert np.allclose(ours[key].values, channel.values[good], rtol=1e-12, atol=1e-12)
        assert ours[key].longest_gap_s == pytest.approx(channel.max_gap_s, abs=1e-6)
        assert ours[key].means == channel.means or ours[key].means == "measured"
    return len(ours)


@pytest.mark.parametrize("name", ["nmea0183", "delimited", "parquet"])
def test_samples_are_read_alike(name: str, tmp_path: Path) -> None:
    sample = SAMPLES[name]
    path = tmp_path / "log"
    path.write_bytes(sample.data)
    theirs, ours, on_utc = both(path, sample.settings)
    assert same(theirs, ours, on_utc) >= 1
    assert ours[sample.channel].values == pytest.approx(sample.values)


@pytest.mark.parametrize("name", sorted(set(SAMPLES) - {"nmea0183", "delimited", "parquet"}))
def test_what_is_not_read_is_told(name: str, tmp_path: Path) -> None:
    path = tmp_path / "log"
    path.write_bytes(SAMPLES[name].data)
    settings = SAMPLES[name].settings
    with pytest.raises(CannotRecompute, match="'a log'"):
        read_log(entry_of(path, settings), sheet_of(tmp_path, settings))


def test_a_log_that_is_gone_is_told(tmp_path: Path) -> None:
    settings = LogSettings()
    with pytest.raises(CannotRecompute, match="cannot be read"):
        read_log(entry_of(tmp_path / "gone.csv", settings), sheet_of(tmp_path, settings))


def test_a_sailed_day_is_read_alike(tmp_path: Path) -> None:
    path = write_trial(tmp_path / "day", logged(sailed()))
    sheet = read_sheet(path)
    count = 0
    for entry in sheet.logs:
        settings = LogSettings(date=DATE, time_zone="Europe/Helsinki", clock=entry.clock)
        theirs = product_reads(entry.path, name=entry.name, settings=settings)
        count += same(theirs, *read_log(entry, sheet))
    assert count == 11


def bodies() -> list[str]:
    """A compass, a log and engines between the positions, through midnight."""
    rows = []
    for i in range(60):
        tenths = 235957 * 10 + 5 + i if i < 25 else (i - 25)
        clock = f"{tenths // 10:06d}.{tenths % 10}0"
        date = "110626" if i < 25 else "120626"
        rows += [
            rmc(clock, f"{10 + 0.1 * i:.1f}", date=date),
            f"GPGGA,{clock},6005.071,N,02332.346,E,1,09,0.9,3.{i},M,17.6,M,,",
            f"HEHDT,{(350 + i) % 360}.0,T",
            f"HCHDG,{(348 + i) % 360}.0,1.5,E,8.0,E",
            f"TIROT,{-3.0 * i:.1f},A",
            f"IIVHW,,T,,M,{5 + 0.1 * i:.1f},N,,K",
            f"IIXDR,A,{2 + 0.1 * i:.1f},D,PTCH,A,{-1.0 + 0.1 * i:.1f},D,ROLL",
            f"IIRPM,E,1,{3000 + i},10.0,A",
            f"IIRPM,E,2,{3100 + i},10.0,A",
        ]
    return rows


def test_all_kinds_of_sentences_are_read_alike(tmp_path: Path) -> None:
    path = tmp_path / "log"
    path.write_text(nmea(bodies()))
    theirs, ours, on_utc = both(path, LogSettings())
    assert same(theirs, ours, on_utc) == 13


def test_sentences_without_a_date_take_the_sheets(tmp_path: Path) -> None:
    """23:30 UTC of the tenth is half past two of the eleventh in Helsinki."""
    path = tmp_path / "log"
    rows = [
        f"GPGGA,2330{i:02d}.00,6005.071,N,02332.346,E,1,09,0.9,3.0,M,17.6,M,," for i in range(9)
    ]
    path.write_text(nmea(rows))
    settings = LogSettings(date=DATE, time_zone="Europe/Helsinki")
    theirs, ours, on_utc = both(path, settings)
    same(theirs, ours, on_utc)
    assert ours["altitude"].t_s[0] == dt.datetime(2026, 6, 10, 23, 30, tzinfo=dt.UTC).timestamp()


def test_damaged_and_invalid_sentences_hold_nothing(tmp_path: Path) -> None:
    rows = nmea([rmc(f"1000{i:02d}.00", "10.0", status="V" if i == 4 else "A") for i in range(9)])
    damaged = rows.replace(
        sentence(rmc("100006.00", "10.0")), sentence(rmc("100006.00", "10.0"))[:-1]
    )
    path = tmp_path / "log"
    path.write_text(damaged)
    theirs, ours, on_utc = both(path, LogSettings())
    same(theirs, ours, on_utc)
    assert ours["speed"].t_s.size == 7


def test_times_that_run_backwards_are_told(tmp_path: Path) -> None:
    path = tmp_path / "log"
    path.write_text(
        nmea([rmc(clock, "9.0") for clock in ("100000", "100001", "100000.5", "100002")])
    )
    with pytest.raises(CannotRecompute, match="do not go on from each other at line 3"):
        read_log(entry_of(path, LogSettings()), sheet_of(tmp_path, LogSettings()))
    path.write_text("time (s),speed (kn)\n" + "".join(f"{t},5\n" for t in (1, 2, 3, 1, 2)))
    with pytest.raises(CannotRecompute, match="backwards in the log 'a log' at line 5"):
        read_log(entry_of(path, LogSettings()), sheet_of(tmp_path, LogSettings()))


TABLES = {
    "preamble, units below, comments": (
        "Logger 5\nserial,17\n\ntime;speed;pitch\niso;kn;deg\n# calm\n"
        + "".join(f"2026-06-11T07:00:0{i}Z;{i},5;{i},25\n" for i in range(9)),
        LogSettings(),
    ),
    "wall clock of a zone": (
        "time,speed (km/h)\n" + "".join(f"2026-06-11 10:00:0{i}.5,{i}\n" for i in range(9)),
        LogSettings(time_zone="Europe/Helsinki"),
    ),
    "date beside time of day": (
        "date\ttime\tSOG (mph)\n" + "".join(f"11.6.2026\t10:00:0{i}\t{i}.5\n" for i in range(9)),
        LogSettings(time_zone="Europe/Helsinki"),
    ),
    "time of day alone, through midnight": (
        "utc time,alt (ft)\n"
        + "".join(f"23:59:5{i},{i}\n" for i in range(9))
        + "00:00:01,9\n00:00:02,10\n",
        LogSettings(date=DATE),
    ),
    "milliseconds since 1970": (
        "timestamp,rpm\n" + "".join(f"{1781150400000 + 100 * i},{600 + i}\n" for i in range(9)),
        LogSettings(),
    ),
    "seconds of its own clock": (
        "elapsed (s),Port RPM,Stbd RPM,gear\n"
        + "".join(f"{i / 10},{i},{2 * i},F\n" for i in range(9)),
        LogSettings(),
    ),
    "own clock whose start is stated": (
        "time (s),throttle (%)\n" + "".join(f"{i},{i}\n" for i in range(9)),
        LogSettings(clock_start=dt.datetime(2026, 6, 11, 7, tzinfo=dt.UTC)),
    ),
    "GPS time": (
        "time,speed (m/s)\n" + "".join(f"2026-06-11T07:00:0{i}Z,{i}\n" for i in range(9)),
        LogSettings(clock="gps"),
    ),
    "columns by the sheet": (
        "Zeit,Geschw,Nick\n" + "".join(f"{i},{i},{i}\n" for i in range(9)),
        LogSettings(columns={"Zeit": "time (s)", "Geschw": "speed (kn)", "nick": "pitch (deg)"}),
    ),
    "damaged rows and what cannot be": (
        "time (s),speed (kn)\n0,1\n1\n2,3,4\n3,nan\n4,--\n5,900\ntime (s),speed (kn)\n8,9\n9,1",
        LogSettings(),
    ),
    "degrees Fahrenheit": (
        "time (s),water temp (F)\n" + "".join(f"{i},{60 + i}\n" for i in range(9)),
        LogSettings(),
    ),
    "UTF-16": ("time (s),pitch (°)\n" + "".join(f"{i},{i}\n" for i in range(9)), LogSettings()),
}


@pytest.mark.parametrize("name", TABLES)
def test_tables_are_read_alike(name: str, tmp_path: Path) -> None:
    text, settings = TABLES[name]
    path = tmp_path / "log.csv"
    path.write_bytes(text.encode("utf-16" if name == "UTF-16" else "utf-8"))
    theirs, ours, on_utc = both(path, settings)
    assert same(theirs, ours, on_utc) >= 1


def test_lines_are_where_the_values_stand(tmp_path: Path) -> None:
    text, settings = TABLES["preamble, units below, comments"]
    path = tmp_path / "log.csv"
    path.write_text(text)
    ours, _ = read_log(entry_of(path, settings), sheet_of(tmp_path, settings))
    line = int(ours["speed"].lines[3])
    assert text.splitlines()[line - 1] == "2026-06-11T07:00:03Z;3,5;3,25"


def test_clocks_that_were_changed_are_told(tmp_path: Path) -> None:
    """On 2026-10-25 clocks in Helsinki go back from 04:00 to 03:00 (IANA)."""
    path = tmp_path / "log.csv"
    path.write_text("time,speed (kn)\n" + "".join(f"2026-10-25 03:30:0{i},{i}\n" for i in range(9)))
    settings = LogSettings(time_zone="Europe/Helsinki")
    with pytest.raises(CannotRecompute, match="clocks were changed"):
        read_log(entry_of(path, settings), sheet_of(tmp_path, settings))


def test_the_sheet_on_paper(tmp_path: Path) -> None:
    path = write_trial(tmp_path / "day", logged(sailed()))
    sheet = read_sheet(path)
    assert sheet.units == "us"
    assert sheet.ladder == ("mph", (10, 20, 30, 40))
    assert sheet.test_mass_kg == 1180.0
    assert sheet.late("gps", "speed").stated
    assert not sheet.late("gps", "course").stated
    assert sheet.late("attitude", "pitch").sd_s == 0.1
    assert quantity("0.20 s", "time") == 0.2
    assert quantity("27 US gal", "volume") == pytest.approx(27 * 3.785411784e-3)  # NIST HB 44
    assert instant("2026-06-11T07:00:00+03:00") == 1781150400.0


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("units = 'miles'", "no set of units"),
        ("= 5", "cannot be read"),
        ("logs = 5", "not understood"),
    ],
)
def test_a_sheet_that_is_not_understood_is_told(text: str, told: str, tmp_path: Path) -> None:
    (tmp_path / "trial.toml").write_text(text)
    with pytest.raises(CannotRecompute, match=told):
        read_sheet(tmp_path / "trial.toml")


@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_damaged_logs_are_read_or_told(name: str, tmp_path: Path) -> None:
    """Bytes cut out, doubled and overwritten: channels, or one sentence, and nothing else."""
    sample, rng = SAMPLES[name], np.random.default_rng(8)
    sheet = sheet_of(tmp_path, sample.settings)
    path = tmp_path / "log"
    told: list[str] = []
    for _ in range(60):
        data = bytearray(sample.data)
        first = int(rng.integers(len(data)))
        last = min(len(data), first + int(rng.integers(1, 40)))
        what = int(rng.integers(3))
        if what == 0:
            del data[first:last]
        elif what == 1:
            data[first:first] = data[first:last] * 2
        else:
            data[first:last] = rng.integers(0, 256, last - first, dtype=np.uint8).tobytes()
        path.write_bytes(bytes(data))
        try:
            found, _ = read_log(entry_of(path, sample.settings), sheet)
            assert all(np.all(np.diff(one.t_s) > 0) for one in found.values())
        except CannotRecompute as error:
            told.append(error.why)
    assert all(len(why) < 240 and not why.endswith(".") for why in told)
    assert (len(told) < 60) == (name in ("nmea0183", "delimited", "parquet"))
