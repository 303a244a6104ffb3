"""Which time a sentence without one belongs to, and times that do not run as they should."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest
from log_samples import KNOT, nmea, rmc

from sync.errors import EmptyLogError
from sync.log import Log
from sync.readers import LogSettings, read_log

DATE = dt.date(2026, 6, 11)
NINE = dt.datetime(2026, 6, 11, 9, tzinfo=dt.UTC).timestamp()


def read(tmp_path: Path, bodies: list[str], **known: object) -> Log:
    path = tmp_path / "gps.nmea"
    path.write_text(nmea(bodies))
    return read_log(path, settings=LogSettings(**{"date": DATE, **known}))  # type: ignore[arg-type]


def gga(second: float) -> str:
    return f"GPGGA,0900{second:05.2f},6005.071,N,02332.346,E,1,08,1.0,5.0,M,18.0,M,,"


def gll(second: float) -> str:
    return f"GPGLL,6005.071,N,02332.346,E,0900{second:05.2f},A,A"


def vtg(knots: float) -> str:
    return f"GPVTG,045.0,T,,M,{knots:.1f},N,,K,A"


def speeds(log: Log) -> list[tuple[float, float]]:
    channel = log.channels["speed"]
    return [
        (round(t - NINE, 6), round(v / KNOT, 6))
        for t, v in zip(channel.t_s, channel.values, strict=True)
    ]


def test_a_vtg_behind_its_position_belongs_to_it(tmp_path: Path) -> None:
    log = read(tmp_path, [gga(0), vtg(1), gga(1), vtg(2), gga(2), vtg(3)])
    assert speeds(log) == [(0, 1), (1, 2), (2, 3)]


def test_a_vtg_before_its_position_belongs_to_it_where_the_log_begins_so(tmp_path: Path) -> None:
    log = read(tmp_path, [vtg(1), gll(0), vtg(2), gll(2), vtg(3), gll(4)])
    assert speeds(log) == [(0, 1), (2, 2), (4, 3)]
    assert any("stand before the time" in warning for warning in log.warnings)


def test_a_vtg_between_two_sentences_of_one_time_belongs_to_that_time(tmp_path: Path) -> None:
    log = read(tmp_path, [gga(0), vtg(1), gll(0), gga(1), vtg(2), gll(1)])
    assert speeds(log) == [(0, 1), (1, 2)]


def test_a_vtg_that_leads_and_has_no_position_behind_it_is_left_out(tmp_path: Path) -> None:
    log = read(tmp_path, [vtg(1), gll(0), vtg(2), gll(1), vtg(3)])
    assert speeds(log) == [(0, 1), (1, 2)]
    assert log.counts["untimed"] == 2  # its speed and its course


def test_speed_comes_from_rmc_where_vtg_is_there_too(tmp_path: Path) -> None:
    log = read(tmp_path, [b for s in range(4) for b in (rmc(f"09000{s}", f"{s}.0"), vtg(9))])
    assert speeds(log) == [(0, 0), (1, 1), (2, 2), (3, 3)]
    assert log.channels["speed"].source == "GPRMC"
    assert log.counts["not_taken:speed of GPVTG"] == 1


def test_speed_comes_from_vtg_where_it_holds_clearly_more(tmp_path: Path) -> None:
    bodies = [b for s in range(10) for b in (gga(s), vtg(s))]
    log = read(tmp_path, [rmc("090000.00", "9.0"), *bodies])
    assert log.channels["speed"].source == "GPVTG"
    assert log.channels["speed"].values.size == 10


def test_several_headings_in_an_epoch_share_its_time(tmp_path: Path) -> None:
    bodies = [b for s in range(3) for b in (gga(s), *(f"HEHDT,{10 * s + i}.0,T" for i in range(5)))]
    heading = read(tmp_path, bodies).channels["heading"]
    np.testing.assert_allclose(heading.t_s - NINE, np.arange(15) * 0.2, atol=1e-6)


def test_a_clock_sentence_that_lags_does_not_move_the_positions(tmp_path: Path) -> None:
    """As in a real log: ZDA a second behind GLL in every fourth epoch."""
    bodies = []
    for s in range(0, 8, 2):
        bodies += [vtg(s), f"GPZDA,0900{s - (s == 6):02d},11,06,2026,00,00", gll(s)]
    log = read(tmp_path, bodies, date=None)
    assert speeds(log) == [(0, 0), (2, 2), (4, 4), (6, 6)]


def test_a_hole_in_the_reception_is_a_hole(tmp_path: Path) -> None:
    bodies = [rmc(f"0900{s:02d}", "5.0", status="V" if 10 <= s < 20 else "A") for s in range(30)]
    speed = read(tmp_path, bodies).channels["speed"]
    assert speed.t_s.size == 30
    assert int(np.isnan(speed.values).sum()) == 10
    (hole,) = speed.holes()
    assert (hole.start_s - NINE, hole.stop_s - NINE) == (9, 20)


def test_midnight_begins_a_new_day_without_a_new_date(tmp_path: Path) -> None:
    bodies = [
        f"GPGLL,6005.071,N,02332.346,E,{clock},A,A" for clock in ("235959", "000000", "000001")
    ]
    t = read(tmp_path, bodies).channels["latitude"].t_s
    first = dt.datetime(2026, 6, 11, 23, 59, 59, tzinfo=dt.UTC).timestamp()
    assert t.tolist() == [first, first + 1, first + 2]


def test_midnight_between_a_dated_sentence_and_one_that_is_not(tmp_path: Path) -> None:
    bodies = [rmc("235959.00", "1.0"), rmc("000000.00", "2.0", date="120626"), gll_at("000001.00")]
    t = read(tmp_path, bodies, date=None).channels["latitude"].t_s
    assert np.diff(t).tolist() == [1.0]
    log = read(tmp_path, [gll_at("235958.00"), *bodies], date=None)
    assert log.counts["epochs"] == 4


def gll_at(clock: str) -> str:
    return f"GPGLL,6005.071,N,02332.346,E,{clock},A,A"


def test_the_sheets_date_is_a_day_in_the_sheets_zone(tmp_path: Path) -> None:
    """01:30 in Helsinki on 11 June 2026 is 22:30 UTC on the 10th (UTC+3 in summer: IANA tz)."""
    t = read(tmp_path, [gll_at("223000")], time_zone="Europe/Helsinki").channels["latitude"].t_s[0]
    assert t == dt.datetime(2026, 6, 10, 22, 30, tzinfo=dt.UTC).timestamp()
    t = read(tmp_path, [gll_at("090000")], time_zone="Europe/Helsinki").channels["latitude"].t_s[0]
    assert t == NINE


def test_a_single_stray_time_is_left_out_and_told(tmp_path: Path) -> None:
    clocks = ["090000", "090001", "093002", "090003", "090004"]
    log = read(tmp_path, [rmc(clock, "5.0") for clock in clocks])
    assert (log.channels["speed"].t_s - NINE).tolist() == [0, 1, 3, 4]
    assert log.counts["stray_epochs"] == 1
    assert any("out of the order of time" in warning for warning in log.warnings)


def test_a_clock_that_was_set_back_breaks_the_log_and_is_told(tmp_path: Path) -> None:
    before = [rmc(f"0900{s:02d}", "5.0") for s in range(20, 30)]
    after = [rmc(f"0900{s:02d}", "6.0") for s in range(10, 50)]
    log = read(tmp_path, before + after)
    speed = log.channels["speed"]
    assert (speed.t_s - NINE).tolist() == list(range(10, 50))
    assert np.allclose(speed.values, 6 * KNOT)
    assert log.counts["breaks"] == 1
    assert log.counts["overlapping_epochs"] == 10
    assert any("backwards 1 time, first at line 11" in warning for warning in log.warnings)


def test_a_date_that_is_not_the_trials_is_told(tmp_path: Path) -> None:
    """1024 weeks: a GPS receiver counts weeks in ten bits (GPS interface standard)."""
    log = read(tmp_path, [rmc("090000", "1.0", date="261006")])
    assert any("1024 weeks" in warning for warning in log.warnings)
    assert (DATE - dt.date(2006, 10, 26)).days == 1024 * 7
    other = read(tmp_path, [rmc("090000", "1.0", date="010125")])
    assert any("the log is dated 2025-01-01" in warning for warning in other.warnings)


def test_two_receivers_in_one_log_are_not_mixed(tmp_path: Path) -> None:
    other = "GNRMC,{},A,6006.000,N,02333.000,E,9.0,045.0,110626,,,A"
    bodies = []
    for s in range(6):
        bodies.append(rmc(f"09000{s}.00", "5.0"))
        if s < 4:
            bodies.append(other.format(f"09000{s}.50"))
    log = read(tmp_path, bodies)
    assert log.channels["speed"].source == "GPRMC"
    assert speeds(log) == [(s, 5) for s in range(6)]


def test_a_log_without_any_time_says_so(tmp_path: Path) -> None:
    with pytest.raises(EmptyLogError, match="no sentence of the log carries a time"):
        read(tmp_path, ["HEHDT,10.0,T"] * 5)
    with pytest.raises(EmptyLogError, match="carries a time"):
        read(tmp_path, [vtg(3)] * 5)


def test_a_receiver_that_never_knew_anything_says_so(tmp_path: Path) -> None:
    bodies = [f"GPRMC,09000{s},V,,,,,,,110626,,,N" for s in range(5)]
    with pytest.raises(EmptyLogError, match=r"never had a position or a speed .*5 GPRMC"):
        read(tmp_path, bodies)
