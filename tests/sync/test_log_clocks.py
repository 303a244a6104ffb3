"""Clocks that logs count on: GPS time and its weeks, leap seconds, roll-overs, zones."""

from __future__ import annotations

import datetime as dt
import importlib.resources
from pathlib import Path

import numpy as np
import pytest
from log_samples import nmea, rmc, sentence

from sync.errors import LogFormatError
from sync.log import Log
from sync.readers import LogSettings, read_log
from sync.readers.gps_time import LEAPS, ahead_s, gps_to_utc

DATE = dt.date(2026, 6, 11)
NINE = dt.datetime(2026, 6, 11, 9, tzinfo=dt.UTC).timestamp()
TOW = 4 * 86400 + 9 * 3600 + 18  # 09:00:18 GPS time on a Thursday, the week beginning on Sunday
WEEK = (dt.date(2026, 6, 11) - dt.date(1980, 1, 6)).days // 7


def read(tmp_path: Path, text: str, **known: object) -> Log:
    path = tmp_path / "log"
    path.write_text(text)
    # settings of mixed types by name, as each test knows them
    return read_log(path, settings=LogSettings(**{"date": DATE, **known}))  # type: ignore[arg-type]


def test_the_leap_seconds_are_iana_s() -> None:
    """Source: IANA tz database, file `leapseconds`, as the package tzdata carries it."""
    text = (importlib.resources.files("tzdata") / "zoneinfo" / "leapseconds").read_text()
    months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
    days = []
    for line in text.splitlines():
        if line.startswith("Leap"):
            _, year, month, day, *_ = line.split()
            last = dt.date(int(year), months.index(month) + 1, int(day))
            days.append((last + dt.timedelta(days=1)).isoformat())
    since_1980 = [day for day in days if day > "1980-01-06"]
    assert since_1980 == [day for day, _ in LEAPS]
    assert [count for _, count in LEAPS] == list(range(1, len(since_1980) + 1))


def test_gps_time_is_ahead_by_18_seconds_since_2017() -> None:
    """On either side of the last leap second (IERS Bulletin C 52)."""
    new_year = dt.datetime(2017, 1, 1, tzinfo=dt.UTC).timestamp()
    assert ahead_s(np.array([new_year - 1, new_year])).tolist() == [17, 18]
    gps = np.array([new_year + 16, new_year + 18, new_year + 19])
    assert (gps_to_utc(gps) - new_year).tolist() == [-1, 0, 1]


@pytest.mark.parametrize("week", [WEEK, WEEK - 1024, WEEK % 1024])
@pytest.mark.parametrize(("tow", "scale"), [("tow", 1), ("tow (ms)", 1000), ("itow", 1000)])
def test_week_and_seconds_of_week(tmp_path: Path, week: int, tow: str, scale: int) -> None:
    rows = "".join(f"{week},{(TOW + i) * scale},600\n" for i in range(4))
    log = read(tmp_path, f"week,{tow},rpm\n{rows}")
    assert log.clock == "utc"
    assert (log.channels["engine_speed"].t_s - NINE).tolist() == [0, 1, 2, 3]


def test_seconds_of_week_alone_begin_anew_on_sunday(tmp_path: Path) -> None:
    rows = "".join(f"{(604798 + i) % 604800},600\n" for i in range(4))
    log = read(tmp_path, f"tow,rpm\n{rows}", date=dt.date(2026, 6, 13))
    sunday = dt.datetime(2026, 6, 14, tzinfo=dt.UTC).timestamp() - 18
    assert (log.channels["engine_speed"].t_s - sunday).tolist() == [-2, -1, 0, 1]


def test_a_week_that_could_be_several_wants_a_date(tmp_path: Path) -> None:
    rows = f"{WEEK % 1024},{TOW},600\n{WEEK % 1024},{TOW + 1},600\n"
    with pytest.raises(LogFormatError, match="one of several"):
        read(tmp_path, f"week,tow,rpm\n{rows}", date=None)
    with pytest.raises(LogFormatError, match=r"604,800.*ms"):
        read(tmp_path, f"week,tow,rpm\n{WEEK},{TOW * 1000},600\n{WEEK},{TOW * 1000 + 9},600\n")


def clock(second: float) -> str:
    return f"{9 + int(second // 3600):02d}{int(second // 60) % 60:02d}{second % 60:05.2f}"


@pytest.mark.parametrize("ahead", [18, 2])
@pytest.mark.parametrize("period", [0.1, 1.0])
def test_a_receiver_that_gets_its_leap_seconds_is_put_right(
    tmp_path: Path, ahead: int, period: float
) -> None:
    times = np.arange(120) * period
    bodies = [rmc(clock(t + (ahead if i < 40 else 0)), "5.0") for i, t in enumerate(times)]
    log = read(tmp_path, nmea(bodies))
    np.testing.assert_allclose(log.channels["speed"].t_s - NINE, times, atol=1e-6)
    assert log.counts["leap_seconds_put_right"] == 40
    assert log.counts.get("breaks", 0) == 0
    assert any(f"put back by {ahead} s" in w and "line 41" in w for w in log.warnings)


def test_a_lost_epoch_at_the_step_does_not_mislead(tmp_path: Path) -> None:
    times = [*range(40), *range(41, 90)]
    bodies = [rmc(clock(t + (18 if t < 40 else 0)), "5.0") for t in times]
    log = read(tmp_path, nmea(bodies))
    assert (log.channels["speed"].t_s - NINE).tolist() == times


@pytest.mark.parametrize("ahead", [10, 16])
def test_another_step_back_is_a_break(tmp_path: Path, ahead: int) -> None:
    """Neither all the leap seconds nor a few: nobody knows what it was, and nothing is moved."""
    bodies = [rmc(clock(t + (ahead if t < 40 else 0)), "5.0") for t in range(120)]
    log = read(tmp_path, nmea(bodies))
    assert log.counts["breaks"] == 1
    assert "leap_seconds_put_right" not in log.counts


def test_a_date_1024_weeks_back_is_put_right(tmp_path: Path) -> None:
    """2006-10-26 is 1024 weeks before 2026-06-11: weeks are counted in ten bits (IS-GPS-200)."""
    assert (DATE - dt.date(2006, 10, 26)).days == 1024 * 7
    bodies = [rmc(clock(t), "5.0", date="261006") for t in range(5)]
    log = read(tmp_path, nmea(bodies))
    assert (log.channels["speed"].t_s - NINE).tolist() == [0, 1, 2, 3, 4]
    assert log.counts["weeks_put_right"] == 5
    table = "time,rpm\n2006-10-26T09:00:00Z,600\n2006-10-26T09:00:01Z,600\n"
    told = read(tmp_path, table)
    assert (told.channels["engine_speed"].t_s - NINE).tolist() == [0, 1]
    assert any("1024 weeks" in warning for warning in told.warnings)


def test_a_date_from_before_the_receiver_knew_it_is_left_out(tmp_path: Path) -> None:
    bodies = [rmc(clock(t), "5.0", date="060180" if t < 3 else "110626") for t in range(9)]
    log = read(tmp_path, nmea(bodies))
    assert (log.channels["speed"].t_s - NINE).tolist() == [3, 4, 5, 6, 7, 8]
    assert log.counts["other_dates"] == 3
    assert any("line 1" in warning for warning in log.warnings)


def table_of(walls: list[str]) -> str:
    return "time,rpm\n" + "".join(f"2026-10-25T{wall},600\n" for wall in walls)


def utc(*parts: int) -> float:
    return dt.datetime(*parts, tzinfo=dt.UTC).timestamp()  # type: ignore[arg-type, misc]


@pytest.mark.parametrize(
    ("walls", "first"),
    [
        (["02:59:58", "02:59:59", "03:00:00"], (2026, 10, 24, 23, 59, 58)),
        (["03:59:58", "03:59:59", "04:00:00"], (2026, 10, 25, 1, 59, 58)),
        (["03:59:59", "03:00:00", "03:00:01"], (2026, 10, 25, 0, 59, 59)),
    ],
)
def test_an_hour_that_comes_twice_is_settled_by_its_rows(
    tmp_path: Path, walls: list[str], first: tuple[int, ...]
) -> None:
    """Helsinki, 25 October 2026: at 04:00 summer time clocks go back to 03:00 (IANA tz)."""
    log = read(tmp_path, table_of(walls), time_zone="Europe/Helsinki", date=None)
    t = log.channels["engine_speed"].t_s
    assert t[0] == utc(*first)
    assert np.diff(t).tolist() == [1.0, 1.0]


def test_an_hour_that_comes_twice_and_nothing_tells_is_refused(tmp_path: Path) -> None:
    with pytest.raises(LogFormatError, match="comes twice in Europe/Helsinki"):
        read(tmp_path, table_of(["03:10:00", "03:10:01"]), time_zone="Europe/Helsinki")


def test_an_hour_that_does_not_exist_is_refused(tmp_path: Path) -> None:
    """Helsinki, 29 March 2026: at 03:00 clocks go forward to 04:00 (IANA tz)."""
    text = "time,rpm\n2026-03-29T03:10:00,600\n2026-03-29T03:10:01,600\n"
    with pytest.raises(LogFormatError, match="2026-03-29 03:10:00 does not exist"):
        read(tmp_path, text, time_zone="Europe/Helsinki")


def test_stamps_before_sentences_tell_how_the_logger_is_set(tmp_path: Path) -> None:
    """Tag blocks in seconds and milliseconds, and ISO stamps; the checksum is a block's own."""
    body = sentence("s:bow,c:1781168403")[1:]
    lines = [
        *(f"\\{body}\\{sentence(rmc(clock(0), '5.0'))}",),
        f"\\{sentence(f'c:{int((NINE + 4) * 1000)}')[1:]}\\{sentence(rmc(clock(1), '5.0'))}",
        f"2026-06-11T12:00:05.500+03:00 {sentence(rmc(clock(2), '5.0'))}",
        f"\\c:1781168403*00\\{sentence(rmc(clock(3), '5.0'))}",
    ]
    log = read(tmp_path, "\n".join(lines) + "\n")
    assert [r.t_log_s - r.t_utc_s for r in log.clock_readings] == [3.0, 3.0, 3.5]
    assert {(r.clock, r.source) for r in log.clock_readings} == {("stamps:log", "GPRMC")}
    assert (log.channels["speed"].t_s - NINE).tolist() == [0, 1, 2, 3]
