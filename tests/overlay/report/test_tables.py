"""Every table says what the results say: in print at their rounding, in its file in full."""

import io
import json
import math
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal

import pandas as pd
import pytest
from sailed import T0, logged, only, sailed, within, write_trial

from overlay.analysis.document import document
from overlay.analysis.means import Mean
from overlay.analysis.noise import StepNoise
from overlay.figures import NO_VALUE
from overlay.report.columns import Heading, Table
from overlay.report.csv_file import csv_text
from overlay.report.run_tables import noise_table, pass_table
from overlay.report.tables import tables_of
from overlay.report.tested_table import STATED
from overlay.sheet.model import Boat, Conditions, Engine, Load, Propeller

MPH, FOOT, MILE, GALLON = 0.44704, 0.3048, 1609.344, 3.785411784e-3
"""In SI, exactly. Source: NIST SP 811, appendix B.8."""


def by_name(made) -> dict[str, Table]:
    return {table.name: table for some in tables_of(made.results, made.trial).values()
            for table in some}  # fmt: skip


def frame(table: Table) -> pd.DataFrame:
    return pd.read_csv(io.StringIO(csv_text(table)), keep_default_na=False, na_values=[""])


def shown(value: float, sd: float, finer: int = 0) -> str:
    """A value at the power of ten that is not below its deviation, worked out here anew."""
    step = Decimal(10) ** (max(-2, math.ceil(math.log10(sd) - 1e-12)) - finer)
    whole = (Decimal(repr(value)) / step).quantize(Decimal(1), rounding=ROUND_HALF_UP) * step
    return f"{whole:.{max(0, -step.as_tuple().exponent)}f}"


def shown_beside(value: float, sd: float) -> str:
    """The same to the deviation's own first digit, which stands beside it."""
    return shown(value, sd, finer=1)


@pytest.mark.parametrize("which", ["day", "hostile"])
def test_every_table_is_whole(which: str, request: pytest.FixtureRequest) -> None:
    tables = by_name(request.getfixturevalue(which))
    assert {"tested", "summary", "launch_times", "steps", "passes", "day"} <= set(tables)
    for table in tables.values():
        assert table.name.isidentifier()
        assert table.rows
        assert {len(row) for row in table.rows} == {len(table.headings)}
        assert {len(row) for row in table.raw_rows} <= {len(table.raw_headings)}
        assert len(set(table.raw_headings)) == len(table.raw_headings)
        texts = [cell for row in table.rows for cell in row] + list(table.notes)
        assert all("\n" not in text and "nan" not in text.split() for text in texts)


def test_a_heading_carries_its_unit() -> None:
    assert str(Heading(text="speed", unit="mph")) == "speed, mph"
    assert str(Heading(text="slip")) == "slip"


def test_steps_are_printed_as_the_results_have_them(day) -> None:
    table = by_name(day)["steps"]
    places = {head.text: n for n, head in enumerate(table.headings)}
    assert [head.unit for head in table.headings][2:6] == ["mph", "US gal/h", "mi/US gal", "mi"]
    for step, row in zip(day.results.steps, table.rows, strict=True):
        speed, sd = step.speed.value / MPH, step.speed.sd / MPH
        assert row[places["speed"]].split(" ± ")[0] == shown_beside(speed, sd)
        hour = 3600 / GALLON
        assert row[places["flow"]] == shown(step.flow.value * hour, step.flow.sd * hour)
        per, miles = step.economy.per_volume_m, GALLON / MILE
        assert row[places["economy"]] == shown(per.value * miles, per.sd * miles)
        far = step.economy.range_m
        assert row[places["range"]] == shown(far.value / MILE, far.sd / MILE)


def test_launch_times_are_printed_as_the_results_have_them(day) -> None:
    table = by_name(day)["launch_times"]
    assert table.marked == (0,)
    assert table.rows[0][0] == "both ways"
    for launch, row in zip(day.results.launches, table.rows[1:], strict=True):
        assert row[0] == launch.name
        assert row[2] == "counted"
        for time, cell in zip(launch.ladder, row[3:], strict=True):
            assert cell.split(" ± ")[0] == shown_beside(time.time_s, time.sd_s)


def test_files_read_again_are_the_results_document(day) -> None:
    """By pandas, converted by the factors above, against `results.json`."""
    found = json.loads(json.dumps(document(day.results, day.trial)))
    tables = by_name(day)
    steps = frame(tables["steps"])
    wanted = found["steps"]
    assert steps["step"].tolist() == [step["name"] for step in wanted]
    assert steps["speed_mph"].to_numpy() * MPH == pytest.approx(
        [step["speed"]["value"] for step in wanted], rel=1e-9
    )
    assert steps["speed_sd_mph"].to_numpy() * MPH == pytest.approx(
        [step["speed"]["sd"] for step in wanted], rel=1e-9
    )
    assert steps["range_mi"].to_numpy() * MILE == pytest.approx(
        [step["economy"]["range_m"]["value"] for step in wanted], rel=1e-9
    )
    times = frame(tables["launch_times"])
    own = times[times["launch"] != "both ways"]
    assert own["time_s"].tolist() == pytest.approx(
        [row["time_s"] for launch in found["launches"] for row in launch["ladder"]], rel=1e-9
    )
    assert own["distance_ft"].to_numpy() * FOOT == pytest.approx(
        [row["distance_m"] for launch in found["launches"] for row in launch["ladder"]], rel=1e-9
    )
    both = times[times["launch"] == "both ways"]
    assert both["time_s"].tolist() == pytest.approx(
        [row["time_s"]["value"] for row in found["both_ways"]["times"]], rel=1e-9
    )
    passes = frame(tables["passes"])
    assert passes["speed_mph"].to_numpy() * MPH == pytest.approx(
        [run["speed"]["value"] for step in wanted for run in step["passes"]], rel=1e-9
    )
    line = frame(tables["day"])
    assert line["for_s"].tolist() == pytest.approx(
        [one["span"]["stop_s"] - one["span"]["start_s"] for one in found["day"]], rel=1e-9
    )
    assert line["kind"].tolist() == [one["kind"] for one in found["day"]]
    told = frame(tables["definitions"])
    assert told["of"].tolist() == [one["title"] for one in found["definitions"]]


def test_full_throttle_comes_first_of_all_figures(day) -> None:
    table = by_name(day)["summary"]
    assert table.rows[0][0] == "full throttle"
    assert table.rows[0][2] == "inside the maker's band of 5000 to 6000 rpm"
    rpm = day.results.set_up.full_throttle.engine_speed.value * 60
    assert table.rows[0][1] == f"{math.floor(rpm / 10 + 0.5) * 10} rpm"


@pytest.mark.parametrize(
    ("units", "speed", "labels"),
    [
        ("nautical", "kn", ["10 kn", "20 kn", "30 kn", "40 kn"]),
        ("metric", "km/h", ["20 km/h", "40 km/h", "60 km/h", "80 km/h"]),
    ],
)
def test_another_reader_s_units_have_their_own_ladder(
    day_sheet, report_on, units: str, speed: str, labels: list[str]
) -> None:
    tables = by_name(report_on(day_sheet, units))
    heads = tables["launch_times"].headings[3:]
    assert [head.text for head in heads] == [f"to {label}" for label in labels]
    assert speed in [head.unit for head in tables["steps"].headings]
    round_numbers = frame(tables["launch_times"]).iloc[:, 4]
    assert all(number == round(number) for number in round_numbers.tolist())


def test_nothing_is_told_of_the_boat_that_the_sheet_lacks(day) -> None:
    table = by_name(day)["tested"]
    told = {(part, what): text for part, what, text in table.raw_rows}
    assert told == {
        ("engine", "maker's band at full throttle"): "5000 to 6000 rpm",
        ("propeller", "pitch"): "21 in",
        ("load", "mass, weighed as tested"): "2601 lb",  # 1180 kg / 0.45359237, NIST SP 811
        ("load", "usable tank"): "26.4 US gal",
    }


def test_what_the_sheet_says_of_runs_sensors_and_fuel_is_told(tmp_path, report_on) -> None:
    sheet = write_trial(tmp_path / "more", logged(sailed()))
    text = sheet.read_text().replace('units = "us"', 'units = "metric"\nfuel_flow_from = "meter"')
    text = text.replace("aided = true", "aided = true\ncalibrated = 2026-05-02")
    start, stop = "start = 2026-06-11T04:06:40Z", "stop = 2026-06-11T04:07:25Z"
    text += f'[[runs]]\nname = "first"\ntrim = "40 %"\ntabs = "25 %"\n{start}\n{stop}\n'
    text += f'[fuel_check]\nrefilled = "41.5 L"\n{start}\n{stop}\n'
    sheet.write_text(text)
    tables = by_name(report_on(sheet))
    told = dict(tables["tested"].rows)
    assert told["runs"] == "drive trim in first 40%; trim tabs in first 25%"
    assert told["fuel check"] == "refilled 41.5 L"
    assert told["sensors"] == "pitch of attitude calibrated 2026-05-02"
    assert tables["steps"].notes[-1] == "Fuel flow: by a flow meter."


@pytest.mark.parametrize(
    ("part", "model"),
    [
        ("boat", Boat),
        ("engines", Engine),
        ("propeller", Propeller),
        ("load", Load),
        ("conditions", Conditions),
    ],
)
def test_every_key_about_what_was_tested_can_be_told(part: str, model: type) -> None:
    assert [key for key, _, _ in STATED[part]] != []
    assert {key for key, _, _ in STATED[part]} == set(model.model_fields)


def test_one_direction_is_called_single(tmp_path, report_on) -> None:
    """The day until the boat turns round: steps in one direction, and no launch."""
    channels = {key: only(one, within(one, 0, 200)) for key, one in logged(sailed()).items()}
    tables = by_name(report_on(write_trial(tmp_path / "one", channels)))
    assert "launch_times" not in tables
    assert all(row[1].endswith("045°") for row in tables["steps"].rows)
    assert set(frame(tables["steps"])["ways"]) == {"single"}
    assert not any(row[0] == "top speed" for row in tables["summary"].rows)


def test_a_launch_in_one_direction_is_called_single(tmp_path, report_on) -> None:
    channels = {key: only(one, within(one, 380, 460)) for key, one in logged(sailed()).items()}
    table = by_name(report_on(write_trial(tmp_path / "one", channels)))["launch_times"]
    assert [row[2] for row in table.rows] == ["single"]
    assert table.marked == ()
    assert "no mean both ways" in table.notes[0]


def test_a_speed_that_was_not_reached_has_no_time_and_a_reason(tmp_path, report_on) -> None:
    sheet = write_trial(tmp_path / "fast", logged(sailed()))
    text = sheet.read_text()
    ladder = 'units = "us"\nladder = { unit = "mph", speeds = [30, 70] }'
    sheet.write_text(text.replace('units = "us"', ladder))
    table = by_name(report_on(sheet))["launch_times"]
    assert [row[4] for row in table.rows] == [NO_VALUE] * 3
    assert "70 mph: not reached" in table.notes[-1]


def test_words_that_a_program_would_work_out_are_kept_as_words() -> None:
    table = Table(
        name="t", title="t", headings=(), rows=(), raw_headings=("a", "b", "c"),
        raw_rows=(("=1+1", -1.5, None), ("@x", 2, "plain")),
    )  # fmt: skip
    assert csv_text(table) == "a,b,c\n'=1+1,-1.5,\n'@x,2,plain\n"


def test_two_engines_have_a_flow_each_and_one_together(day) -> None:
    (first, *_) = day.results.steps
    run = first.passes[0]
    twin = replace(run, flows=(run.flows[0], Mean(value=2e-6, sd=1e-9)))
    (table,) = pass_table([replace(first, passes=(twin,), two_way=None)], "metric", "UTC")
    heads = [str(head) for head in table.headings]
    assert heads[5:8] == ["flow, L/h", "engine 1, L/h", "engine 2, L/h"]
    whole, port, starboard = frame(table)[
        ["flow_l_per_h", "flow_1_l_per_h", "flow_2_l_per_h"]
    ].iloc[0]
    assert starboard == pytest.approx(7.2)  # 2e-6 m³/s
    assert whole == pytest.approx(port + starboard)
    # Nothing tells the stream of a single pass: its column is in the file and not in print.
    assert not any(head.startswith("current and wind") for head in heads)
    assert "stream_kmh" in table.raw_headings


def test_running_trim_stands_beside_each_step(day) -> None:
    table = by_name(day)["steps"]
    place = [head.text for head in table.headings].index("trim")
    assert table.headings[place].unit == "°"
    for more, row in zip(day.results.set_up.steps, table.rows, strict=True):
        assert row[place] == (
            shown(math.degrees(more.trim.value), math.degrees(more.trim.sd))
            if more.trim.known
            else NO_VALUE
        )
    assert any(more.trim.known for more in day.results.set_up.steps)


def test_roll_on_times_are_those_of_the_results(day) -> None:
    table = by_name(day)["roll_on"]
    assert [head.text for head in table.headings[1:]] == [
        "10 to 20 mph", "20 to 30 mph", "30 to 40 mph", "10 to 40 mph",
    ]  # fmt: skip
    wanted = [one.time_s.value for launch in day.results.launches for one in launch.roll_on]
    assert frame(table)["time_s"].tolist() == pytest.approx(wanted, rel=1e-9)
    for launch, row in zip(day.results.launches, table.rows, strict=True):
        for one, cell in zip(launch.roll_on, row[1:], strict=True):
            assert cell.split(" ± ")[0] == shown_beside(one.time_s.value, one.time_s.sd)


def test_noise_has_its_unit_and_its_weighting() -> None:
    level = Mean(value=81.42, sd=0.3)
    noise = StepNoise(name="5530 rpm", passes=(level, level), level=level, spread_db=1.26)
    (table,) = noise_table([noise])
    assert table.rows == (("5530 rpm", "81.4 ± 0.3", "1.3"),)
    assert table.headings[1].unit == "dB(A)"
    assert csv_text(table) == "step,level_dba,level_sd_dba,spread_db\n5530 rpm,81.42,0.3,1.26\n"
    assert noise_table([]) == ()


def test_the_air_s_density_is_printed_where_the_sheet_has_it(tmp_path, day, report_on) -> None:
    """At the standard's own 15 °C and 1013.25 hPa the ratio is 1 (ISO 2533)."""
    assert not any(row[0] == "density of the air" for row in by_name(day)["summary"].rows)
    sheet = write_trial(tmp_path / "air", logged(sailed()))
    more = '[conditions]\nair_temperature = "15 degC"\npressure = "1013.25 hPa"\n'
    sheet.write_text(sheet.read_text() + more)
    rows = by_name(report_on(sheet))["summary"].rows
    ((_, ratio, how),) = [row for row in rows if row[0] == "density of the air"]
    assert ratio == "1.000"
    assert "dry air" in how


def test_instants_are_on_utc_in_files(day) -> None:
    starts = frame(by_name(day)["launch_starts"])
    at = pd.to_datetime(starts["start_utc"], utc=True)
    wanted = [launch.start.t_s - T0 for launch in day.results.launches]
    assert [(one - pd.Timestamp(T0, unit="s", tz="UTC")).total_seconds() for one in at] == (
        pytest.approx(wanted, abs=0.001)
    )
