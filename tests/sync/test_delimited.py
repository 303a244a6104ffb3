"""Delimited tables: layouts, times, marks, and what is refused."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest

from sync.errors import EmptyLogError, LogFormatError, SyncError, UnitError
from sync.log import Log
from sync.readers import LogSettings, read_log

KNOT = 1852 / 3600
NINE = dt.datetime(2026, 6, 11, 9, tzinfo=dt.UTC).timestamp()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "engine.csv"


def read(path: Path, text: str | bytes, **known: object) -> Log:
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_log(path, settings=LogSettings(**known))  # type: ignore[arg-type]


def values(log: Log, key: str) -> list[float]:
    return [round(float(v), 9) for v in log.channels[key].values]


@pytest.mark.parametrize(
    "text",
    [
        "time (s),rpm,Speed (kn)\n0.0,600,1.5\n0.5,660,2.5\n",
        "time (s)\trpm\tSpeed (kn)\n0.0\t600\t1.5\n0.5\t660\t2.5\n",
        "time (s);rpm;Speed (kn)\n0,0;600;1,5\n0,5;660;2,5\n",
        '"time (s)","rpm","Speed (kn)"\n"0.0","600","1.5"\n"0.5","660","2.5"\n',
        '"time (s)","rpm","Speed (kn)"\n"0,0","600","1,5"\n"0,5","660","2,5"\n',
        "time (s) , rpm , Speed (kn)\n 0.0 , 600 , 1.5\n 0.5 , 660 , 2.5\n",
        "t,rpm,speed\ns,rpm,kn\n0.0,600,1.5\n0.5,660,2.5\n",
        "# written by a logger\n# 2 channels\ntime_s,rpm,speed_kn\n0.0,600,1.5\n0.5,660,2.5\n",
        "Boat;Test\nFuel;90\n\ntime (s);rpm;Speed (kn)\n0.0;600;1.5\n0.5;660;2.5\n",
        "time (s),rpm,Speed (kn),\n0.0,600,1.5,\n0.5,660,2.5,\n",
    ],
    ids=["comma", "tab", "semicolon", "quoted", "quoted decimal commas", "blanks",
         "row of units", "comments", "preamble", "comma at the end"],
)  # fmt: skip
def test_every_layout_gives_the_same_log(path: Path, text: str) -> None:
    log = read(path, text)
    assert log.channels["engine_speed"].t_s.tolist() == [0.0, 0.5]
    assert values(log, "engine_speed") == [10.0, 11.0]
    np.testing.assert_allclose(log.channels["speed"].values, [1.5 * KNOT, 2.5 * KNOT])
    assert log.clock == "log:engine"


def test_windows_1252_is_read_and_told(path: Path) -> None:
    log = read(path, "time (s),rpm,pitch (°)\n0,600,4\n1,600,5\n".encode("cp1252"))
    np.testing.assert_allclose(np.degrees(log.channels["pitch"].values), [4, 5])
    assert any("Windows-1252" in warning for warning in log.warnings)


def test_utf_16_is_read(path: Path) -> None:
    log = read(path, "time (s),rpm\n0,600\n1,660\n".encode("utf-16"))
    assert values(log, "engine_speed") == [10.0, 11.0]


@pytest.mark.parametrize(
    ("cells", "known"),
    [
        (("2026-06-11T09:00:00Z", "2026-06-11T09:00:00.5Z"), {}),
        (("2026-06-11T12:00:00+03:00", "2026-06-11 12:00:00.5+03:00"), {}),
        (("2026-06-11 12:00:00.0", "2026-06-11 12:00:00.5"), {"time_zone": "Europe/Helsinki"}),
        ((f"{NINE:.1f}", f"{NINE + 0.5:.1f}"), {}),
        ((f"{NINE * 1e3:.0f}", f"{NINE * 1e3 + 500:.0f}"), {}),
        (
            ("12:00:00.0", "12:00:00.5"),
            {"time_zone": "Europe/Helsinki", "date": dt.date(2026, 6, 11)},
        ),
    ],
    ids=["Z", "offset", "local", "epoch", "epoch in ms", "time of day"],
)
def test_every_form_of_absolute_time(
    path: Path, cells: tuple[str, str], known: dict[str, object]
) -> None:
    """Helsinki is three hours ahead of UTC in June (IANA tz)."""
    log = read(path, f"time,rpm\n{cells[0]},600\n{cells[1]},660\n", **known)
    np.testing.assert_allclose(log.channels["engine_speed"].t_s - NINE, [0, 0.5], atol=1e-6)
    assert log.clock == "utc"


@pytest.mark.parametrize(
    ("first", "second", "known"),
    [
        ("2026-06-11", "2026-06-12", {}),
        ("11.06.2026", "12.06.2026", {}),
        ("20260611", "20260612", {}),
        ("11/06/2026", "12/06/2026", {"date": dt.date(2026, 6, 11)}),
        ("06/11/2026", "06/12/2026", {"date": dt.date(2026, 6, 11)}),
    ],
)
def test_a_date_and_a_time_of_day_across_midnight(
    path: Path, first: str, second: str, known: dict[str, object]
) -> None:
    text = f"date,time utc,rpm\n{first},23:59:59.5,600\n{second},00:00:00.5,660\n"
    t = read(path, text, **known).channels["engine_speed"].t_s
    start = dt.datetime(2026, 6, 11, 23, 59, 59, 500_000, tzinfo=dt.UTC).timestamp()
    np.testing.assert_allclose(t - start, [0, 1], atol=1e-6)


def test_a_date_that_says_its_order_needs_no_sheet(path: Path) -> None:
    text = "date,time utc,rpm\n06/13/2026,10:00:00,600\n06/13/2026,10:00:01,660\n"
    t = read(path, text).channels["engine_speed"].t_s[0]
    assert t == dt.datetime(2026, 6, 13, 10, tzinfo=dt.UTC).timestamp()


def test_seconds_since_start_meet_utc_where_the_start_is_known(path: Path) -> None:
    start = dt.datetime(2026, 6, 11, 9, tzinfo=dt.UTC)
    log = read(path, "time (s),rpm\n0.0,600\n0.5,660\n", clock_start=start)
    assert log.clock == "utc"
    assert (log.channels["engine_speed"].t_s - NINE).tolist() == [0.0, 0.5]


@pytest.mark.parametrize(
    ("text", "known", "says"),
    [
        ("time,rpm\n0.0,600\n0.1,660\n", {}, "plain numbers without a unit"),
        ("time,rpm\n2026-06-11 09:00:00,600\n", {}, "no time zone is known"),
        ("time,rpm\n09:00:00,600\n09:00:01,600\n", {}, "no date"),
        ("date,time utc,rpm\n01/02/2026,09:00:00,600\n", {}, "day or with the month first"),
        ("time,rpm\n2026-06-11T09:00:00Z,6\n2026-06-11T09:00:01,6\n", {}, "some have none"),
        ("speed (kn),rpm\n1,600\n2,600\n", {}, "no column of time"),
        ("time,rpm\nnoon,600\nlater,601\n", {}, "a form that is not read"),
        ("time (s),rpm\n0,600\n1,660\n", {"clock": "utc"}, "cannot be on UTC"),
        ("time,rpm\n2026-06-11 09:00:00,600\n", {"time_zone": "Europe/Nowhere"}, "not a time zone"),
        ("time (s);rpm;Speed (kn)\n0;600.5;1,5\n1;600;2\n", {}, "decimal points"),
        ("time (s),rpm\n5,1\n" + "4,1\n5,1\n" * 300, {}, "backwards"),
    ],
)
def test_a_time_or_number_that_could_mean_several_things_is_refused(
    path: Path, text: str, known: dict[str, object], says: str
) -> None:
    with pytest.raises(LogFormatError, match=says) as caught:
        read(path, text, **known)
    assert caught.value.path == path


def test_an_unknown_unit_names_line_heading_and_the_nearest(path: Path) -> None:
    with pytest.raises(UnitError, match="did you mean 'kn'") as caught:
        read(path, "Logger,3\n\ntime (s),Speed (knt)\n0,1\n1,2\n")
    assert (caught.value.line, caught.value.key) == (3, "Speed (knt)")


def test_a_unit_of_another_dimension_is_refused(path: Path) -> None:
    with pytest.raises(UnitError, match="a unit of length") as caught:
        read(path, "time (s),Speed (m)\n0,1\n1,2\n")
    assert caught.value.key == "Speed (m)"


def test_a_speed_without_a_unit_is_not_taken_until_the_sheet_says_it(path: Path) -> None:
    text = "time (s),rpm,Speed\n0,600,10\n1,660,20\n"
    log = read(path, text)
    assert "speed" not in log.channels
    assert any("'Speed' has no unit" in warning for warning in log.warnings)
    assert [column.channel for column in log.columns] == ["time", "engine_speed", None]
    mapped = read(path, text, columns={"Speed": "speed (mph)"})
    np.testing.assert_allclose(mapped.channels["speed"].values, [4.4704, 8.9408])


@pytest.mark.parametrize(
    ("columns", "says"),
    [
        ({"Sped": "speed (kn)"}, "did you mean 'Speed'"),
        ({"Speed": "velocity (kn)"}, "which is no channel"),
        ({"Speed": "speed"}, "without a unit"),
        ({"Speed": "speed (rpm)"}, "one of speed is wanted"),
    ],
)
def test_a_wrong_mapping_is_one_sentence(path: Path, columns: dict[str, str], says: str) -> None:
    with pytest.raises(SyncError, match=says):
        read(path, "time (s),rpm,Speed\n0,600,10\n1,660,20\n", columns=columns)


def test_a_mapping_takes_precedence_over_the_heading(path: Path) -> None:
    text = "n,a,b\n0,600,x1\n1,660,x2\n"
    log = read(path, text, columns={"n": "time (s)", "a": "engine_speed.1 (rpm)", "b": "event"})
    assert list(log.channels) == ["engine_speed.1"]
    assert [mark.label for mark in log.marks] == ["x1", "x2"]


def test_columns_that_are_not_understood_are_listed(path: Path) -> None:
    log = read(path, "time (s),rpm,Locker,cabin\n0,600,80,1\n1,600,81,1\n")
    assert any("2 columns are not understood: 'Locker', 'cabin'" in w for w in log.warnings)
    assert [c.name for c in log.columns if c.channel is None] == ["Locker", "cabin"]


@pytest.mark.parametrize("nothing", ["", "NaN", "--", "N/A", "null", " "])
def test_a_cell_that_says_it_has_no_value_has_none(path: Path, nothing: str) -> None:
    log = read(path, f"time (s),rpm,throttle (%)\n0,600,1\n1,{nothing},2\n2,660,3\n")
    assert np.isnan(log.channels["engine_speed"].values[1])
    assert not log.warnings


def test_a_cell_that_cannot_be_read_is_counted_and_told(path: Path) -> None:
    log = read(path, "time (s),rpm\n0,600\n1,six hundred\n2,660\n")
    assert log.counts["unreadable:engine_speed"] == 1
    assert any("line 3 ('six hundred')" in warning for warning in log.warnings)


def test_what_cannot_be_is_a_spike_and_no_value(path: Path) -> None:
    log = read(path, "time (s),rpm\n0,600\n1,65535\n2,660\n3,-5\n")
    np.testing.assert_array_equal(np.isnan(log.channels["engine_speed"].values), [0, 1, 0, 1])
    assert log.counts["spikes:engine_speed"] == 2


def test_times_that_repeat_or_go_back_are_told(path: Path) -> None:
    log = read(path, "time (s),rpm\n0,600\n1,601\n1,602\n2,603\n1.5,604\n3,605\n")
    assert log.channels["engine_speed"].t_s.tolist() == [0, 1, 2, 3]
    assert log.counts["repeated_times"] == 1
    assert log.counts["stray_times"] == 1
    assert any("out of the order of time" in warning for warning in log.warnings)


def test_a_logger_that_began_again_keeps_its_longest_stretch(path: Path) -> None:
    first = "".join(f"{i},600\n" for i in range(3))
    second = "".join(f"{i},660\n" for i in range(9))
    log = read(path, f"time (s),rpm\n{first}time (s),rpm\n{second}")
    assert values(log, "engine_speed") == [11.0] * 9
    assert log.counts["repeated_headings"] == 1
    assert log.counts["overlapping_rows"] == 3
    assert any("backwards 1 time, first at line 6" in warning for warning in log.warnings)


def test_rows_of_another_width_are_counted(path: Path) -> None:
    log = read(path, "time (s),rpm,x\n0,600,\n1,60\n2,660,,9\n3,661,\n4,662,\n")
    assert log.channels["engine_speed"].t_s.tolist() == [0, 3, 4]
    assert (log.counts["short_rows"], log.counts["long_rows"]) == (1, 1)


def test_a_slow_column_beside_a_fast_one_has_no_holes_between_its_rows(path: Path) -> None:
    rows = "".join(f"{i / 10},{600 + i},{i if i % 10 == 0 else ''}\n" for i in range(51))
    flow = read(path, f"time (s),rpm,fuel flow (L/h)\n{rows}").channels["fuel_flow"]
    assert flow.period_s == pytest.approx(1.0)
    assert flow.holes() == ()
    assert flow.at(0.5)[0] * 3.6e6 == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("heading", "keys"),
    [
        ("rpm_port,rpm_stbd", ["engine_speed", "engine_speed.1"]),
        ("rpm port,rpm stbd", ["engine_speed", "engine_speed.1"]),
        (
            "Port engine speed (rpm),Starboard engine speed (rpm)",
            ["engine_speed", "engine_speed.1"],
        ),
        ("engine 1 rpm,engine 2 rpm", ["engine_speed", "engine_speed.1"]),
        ("RPM1,RPM2", ["engine_speed", "engine_speed.1"]),
        ("rpm 0,rpm 1", ["engine_speed", "engine_speed.1"]),
        ("rpm_p,rpm_s", ["engine_speed", "engine_speed.1"]),
        ("fuel flow port (L/h),fuel flow stbd (L/h)", ["fuel_flow", "fuel_flow.1"]),
        ("throttle 1 (%),throttle 2 (%)", ["throttle", "throttle.1"]),
        ("engine_2_fuel_flow_lph,engine_1_fuel_flow_lph", ["fuel_flow.1", "fuel_flow"]),
    ],
)
def test_engines_by_side_or_number(path: Path, heading: str, keys: list[str]) -> None:
    log = read(path, f"time (s),{heading}\n0,10,20\n1,10,20\n")
    assert list(log.channels) == keys


def test_gears_are_words_or_numbers(path: Path) -> None:
    log = read(path, "time (s),gear\n0,N\n1,F\n2,R\n3,1\n")
    assert values(log, "gear") == [0, 1, -1, 1]


def test_an_event_in_a_row_of_its_own_is_as_exact_as_it_is_printed(path: Path) -> None:
    """A rounded time is uniform over the last digit: its deviation is half of it over √3."""
    log = read(path, "time (s),rpm,event\n0.0,600,\n0.1,600,\n0.123,,  Clap  1 \n0.2,600,\n")
    (mark,) = log.marks
    assert mark.label == "clap 1"
    assert mark.t_s == 0.123
    assert mark.sd_s == pytest.approx(0.0005 / np.sqrt(3))
    assert mark.source == "engine.csv, line 4"
    assert log.channels["engine_speed"].t_s.tolist() == [0.0, 0.1, 0.2]


def test_an_event_noticed_on_the_beat_of_the_rows_is_no_better_than_the_beat(path: Path) -> None:
    log = read(path, "time (s),rpm,event\n0.000,600,\n0.100,600,\n0.200,600,clap\n0.300,600,\n")
    assert log.marks[0].sd_s == pytest.approx(0.1 / np.sqrt(3))


def test_a_button_marks_where_it_is_pressed(path: Path) -> None:
    log = read(path, "time (s),rpm,button\n0,1,0\n1,1,1\n2,1,1\n3,1,0\n4,1,1\n")
    assert [(mark.label, mark.t_s) for mark in log.marks] == [("button", 1.0), ("button", 4.0)]


def test_a_mark_stamped_in_utc_keeps_its_microseconds(path: Path) -> None:
    rows = "2026-06-11T09:00:00.000Z,600,\n2026-06-11T09:00:00.123456Z,,clap\n"
    (mark,) = read(path, f"time,rpm,event\n{rows}2026-06-11T09:00:01.000Z,600,\n").marks
    assert mark.t_s - NINE == pytest.approx(0.123456, abs=3e-7)
    assert mark.clock == "utc"


def test_a_table_of_events_alone_is_a_log_of_marks(path: Path) -> None:
    log = read(path, "time (s),event\n1.5,clap\n9.25,lamp\n")
    assert [mark.label for mark in log.marks] == ["clap", "lamp"]
    assert not log.channels


def test_a_table_of_which_nothing_is_understood_says_so(path: Path) -> None:
    with pytest.raises(EmptyLogError, match="no column is understood"):
        read(path, "time (s),foo,bar\n0,1,2\n1,2,3\n")
    with pytest.raises(EmptyLogError, match="no value in any of the columns 'rpm'"):
        read(path, "time (s),rpm\n0,--\n1,--\n")


def test_two_columns_for_one_channel_are_told(path: Path) -> None:
    log = read(path, "time (s),rpm,engine speed (rpm)\n0,600,1\n1,660,1\n")
    assert values(log, "engine_speed") == [10.0, 11.0]
    assert any("both hold engine_speed" in warning for warning in log.warnings)


def test_directions_lie_within_a_full_turn(path: Path) -> None:
    log = read(path, "time (s),COG (deg)\n0,359\n1,360\n2,-1\n")
    np.testing.assert_allclose(np.degrees(log.channels["course"].values), [359, 0, 359], atol=1e-9)


@pytest.mark.parametrize(
    ("heading", "cell", "key", "si"),
    [
        ("fuel_flow_lph", "36", "fuel_flow", 1e-5),
        ("Fuel flow (US gal/h)", "1", "fuel_flow", 3.785411784e-3 / 3600),  # NIST HB 44 App. C
        ("fuel_flow_gph", "1", "fuel_flow", 3.785411784e-3 / 3600),
        ("SOG (kn)", "1", "speed", 1852 / 3600),
        ("speed_mph", "1", "speed", 0.44704),  # NIST SP 811 B.8
        ("pitch [deg]", "180", "pitch", None),
        ("roll_deg", "90", "roll", np.pi / 2),
        ("throttle (%)", "50", "throttle", 0.5),
        ("accel_x (g)", "1", "acceleration", 9.80665),  # NIST SP 811 B.8
        ("yaw rate (deg/s)", "90", "turn_rate", np.pi / 2),
        ("lat", "60.5", "latitude", 60.5),
    ],
)
def test_headings_with_units(
    path: Path, heading: str, cell: str, key: str, si: float | None
) -> None:
    text = f"time (s),rpm,{heading}\n0,600,{cell}\n1,600,{cell}\n"
    log = read(path, text)
    if si is None:
        assert key not in log.channels  # half a turn is no pitch
        assert log.counts[f"spikes:{key}"] == 2
    else:
        np.testing.assert_allclose(log.channels[key].values, [si, si], rtol=1e-9)
