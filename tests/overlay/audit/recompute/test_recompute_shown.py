"""Whole runs as the product shows them, held against the logs: nothing is found wrong."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from sailed import DELAYS, logged, sailed, script, within, write_trial

from overlay.audit.recompute import CannotRecompute, LogSide, compare_ledger, compare_with
from overlay.audit.recompute.sheet import read_sheet
from overlay.ledger import Ledger
from sync.channel import Channel

RUNS = {
    "launch 1": 4,
    "launch 3": 4,
    "3490 rpm, pass 2": 1,
    "2000 rpm": 3,
    "5550 rpm, pass 8": 1,
    "turn 1 to starboard": 4,
    "turn 2 to port": 4,
    "stop 1": 1,
}
"""Runs of the demo's day, and how many flags each has."""


@pytest.mark.parametrize("name", RUNS)
def test_a_run_of_the_demo_is_borne_out(name: str, demo) -> None:
    ledger = demo.ledger(name, fps=1.0 if name == "2000 rpm" else 5.0)
    held = compare_with(demo.side(ledger), ledger)
    assert [finding.told for finding in held.findings] == []
    assert [(one.item, one.why) for one in held.not_held] == []
    flags = {item for _, item in held.held} & {
        mark["label"] for mark in ledger.facts["run"]["marks"]
    }
    assert len(flags) == RUNS[name]
    assert sum(held.held.values()) > 100


def test_a_clip_is_held_in_one_call(demo) -> None:
    ledger = demo.ledger("launch 2")
    held = compare_ledger(demo.sheet_path, ledger, demo.document)
    assert held.findings == ()
    assert held.not_held == ()
    assert held.held["speed", "value"] > 80


def test_values_agree_to_the_last_bits(demo) -> None:
    """What the tolerances of the comparison are measured by."""
    ledger = demo.ledger("launch 1")
    side = demo.side(ledger)
    worst = 0.0
    for (instrument, item), part in ledger.rows.groupby(["instrument", "item"], observed=True):
        expected = side.expected(instrument, item, part["t_utc_s"].to_numpy())
        values = part["value_si"].to_numpy()
        off = np.abs(values - expected.value_si) / np.maximum(np.abs(values), 1e-3)
        off = off[~expected.on_edge]
        worst = max(worst, float(np.nanmax(off)))
    assert worst < 1e-12


UNITS = {
    "nautical": '\ndecimal_sign = ","\nunits = "nautical"',
    "metric": '\ndecimal_sign = ","\nunits = "metric"',
}


@pytest.mark.parametrize("units", UNITS)
def test_other_units_and_a_decimal_comma(units: str, demo, work, tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    folder.mkdir()
    (folder / "logs").symlink_to(demo.sheet_path.parent / "logs")
    text = demo.sheet_path.read_text().replace('\nunits = "us"', UNITS[units])
    text = text.replace("ladder = {", "# ladder = {")
    (folder / "trial.toml").write_text(text)
    made = work(folder / "trial.toml")
    for name, faceplate in (("launch 1", None), ("3490 rpm, pass 1", "step")):
        ledger = made.ledger(name, fps=2.0, faceplate=faceplate)
        held = compare_with(made.side(ledger, demo.day), ledger)
        assert held.findings == ()
        assert held.not_held == ()
        assert ledger.rows["text"].str.contains(",").any()


OTHERS = {
    "launch 1": None,
    "3490 rpm, pass 3": "step",
    "turn 1 to starboard": None,
    "stop 1": None,
}
"""Runs that have flags of every sort, and faceplates."""


@pytest.mark.parametrize("units", ["nautical", "metric"])
def test_a_clip_is_held_in_the_units_that_its_ledger_names(units: str, demo, work) -> None:
    """The sheet stays as it is, with a ladder of its own that such a clip does not have."""
    made = work(demo.sheet_path, units)
    for name, faceplate in OTHERS.items():
        ledger = made.ledger(name, fps=2.0, faceplate=faceplate)
        if name == "launch 1":  # as an audit calls it, which reads the logs anew
            held = compare_ledger(demo.sheet_path, ledger, demo.document)
        else:
            held = compare_with(demo.side(ledger), ledger)
        assert [finding.told for finding in held.findings] == []
        assert held.not_held == ()
        (note,) = (one for one in held.notes if "units" in one)
        assert note.startswith(f"the clip is in {units} units and the sheet in us: ")


@pytest.mark.parametrize(
    ("name", "label"), [("turn 1 to starboard", "entry"), ("3490 rpm, pass 3", "both ways")]
)
def test_a_flag_in_another_unit_than_the_clip_s_is_found(name: str, label: str, demo) -> None:
    """Figure and unit of the flag belong together, and neither belongs to the clip."""
    ledger = demo.ledger(name)
    mark = next(one for one in ledger.facts["run"]["marks"] if one["label"] == label)
    assert mark["text"].endswith(" mph")
    kmh = f"{mark['value'] * 3.6:.1f}"
    marks = [
        {**one, "text": f"{kmh} km/h"} if one is mark else one
        for one in ledger.facts["run"]["marks"]
    ]
    rows = ledger.rows.astype({"text": object, "unit": object})
    mine = rows["item"] == label
    assert mine.any()
    rows.loc[mine, ["text", "unit"]] = [kmh, "km/h"]
    facts = {**ledger.facts, "run": {**ledger.facts["run"], "marks": marks}}
    false = Ledger(facts=facts, rows=rows)
    found = compare_with(demo.side(false), false).findings
    assert {(one.kind, one.item) for one in found} == {("text", label)}
    told = demo.side(false).expected("time", label, np.array([mark["t_utc_s"]]))
    assert told.unit == "mph"


def test_the_quiet_face_is_borne_out(demo) -> None:
    ledger = demo.ledger("launch 4", faceplate="quiet")
    held = compare_with(demo.side(ledger), ledger)
    assert held.findings == ()
    assert held.not_held == ()


def twin(day: dict[str, Channel]) -> dict[str, Channel]:
    """A second engine that lags the first and is logged in steps of 25 rpm."""
    made = dict(day)
    other = day["engine_speed"]
    values = np.round(np.roll(other.values, 3) * 60 / 25) * 25 / 60
    made["engine_speed.1"] = replace(other, instance=1, values=values)
    return made


def sailed_trial(
    tmp_path: Path, work: Callable, change: Callable[[dict[str, Channel]], dict[str, Channel]]
):
    import sailed as days

    with pytest.MonkeyPatch.context() as patch:
        columns = {name: dict(rows) for name, rows in days.COLUMNS.items()}
        columns["engine"]["engine_speed.1"] = ("rpm stbd", 60.0, 2)
        columns["engine"]["engine_speed"] = ("rpm port", 60.0, 2)
        patch.setattr(days, "COLUMNS", columns)
        path = write_trial(tmp_path / "day", change(logged(sailed())), DELAYS)
    return work(path)


def test_two_engines_are_borne_out(tmp_path: Path, work) -> None:
    """Both are written with the digits of the coarser one."""
    made = sailed_trial(tmp_path, work, twin)
    ledger = made.ledger("launch 1", faceplate="twin")
    held = compare_with(made.side(ledger), ledger)
    assert held.findings == ()
    assert held.not_held == ()
    items = {item for _, item in held.held}
    assert {"port", "starboard"} <= items


def test_a_hole_shows_no_value_on_both_sides(tmp_path: Path, work) -> None:
    def holed(day: dict[str, Channel]) -> dict[str, Channel]:
        speed = day["speed"]
        launch = next(one for one in _launches())
        away = within(speed, launch + 20.0, launch + 22.0)
        values = np.where(away, np.nan, speed.values)
        return {**day, "speed": replace(speed, values=values)}

    made = sailed_trial(tmp_path, work, holed)
    ledger = made.ledger("launch 1")
    held = compare_with(made.side(ledger), ledger)
    assert held.findings == ()
    rows = ledger.rows[ledger.rows["instrument"] == "speed"]
    assert 3 <= (rows["text"] == "––").sum() <= 30


def _launches() -> list[float]:

    return [one.start_s for one in script()[1] if one.what == "launch"]


def test_without_the_rest_in_the_ledger_pitch_is_not_held(demo) -> None:
    ledger = demo.ledger("stop 1")
    facts = {key: value for key, value in ledger.facts.items() if key != "rest"}
    held = compare_with(demo.side(replace(ledger, facts=facts)), replace(ledger, facts=facts))
    assert [one.why for one in held.not_held] == [
        "the ledger does not say over which rest pitch was levelled"
    ]


def test_a_rest_under_way_is_no_rest(demo) -> None:
    ledger = demo.ledger("stop 1")
    start = ledger.facts["run"]["start_utc_s"]
    facts = {**ledger.facts, "rest": [start - 20.0, start - 5.0]}
    held = compare_with(demo.side(replace(ledger, facts=facts)), replace(ledger, facts=facts))
    assert [one.why for one in held.not_held] == [
        "the boat was not at rest where pitch was levelled"
    ]


def test_pointers_along_and_held(demo) -> None:
    ledger = demo.ledger("launch 1")
    side = demo.side(ledger)
    run = ledger.facts["run"]
    t = np.array([run["start_utc_s"] - 1.0, run["start_utc_s"] + 2.5, run["stop_utc_s"] + 3.0])
    along = side.expected("time", "along", t)
    assert math.isnan(along.value[0])
    assert along.value[1] == pytest.approx(2.5)
    assert along.value[2] == pytest.approx(run["stop_utc_s"] - run["start_utc_s"])
    engine = side.expected("engine", "value", t)
    assert engine.unit == "rpm"
    assert engine.value[1] == pytest.approx(60 * engine.value_si[1])
    grid = np.append(np.arange(run["start_utc_s"], t[2], 0.05), t[2])
    shown = side.expected("engine", "value", grid).value
    held = side.expected("engine", "held", t)
    assert math.isnan(held.value[0])
    assert held.value[2] == pytest.approx(float(np.max(shown)))
    assert held.t_shown_s[2] < t[2]


def test_a_turn_counts_degrees(demo) -> None:
    ledger = demo.ledger("turn 2 to port")
    side = demo.side(ledger)
    run = ledger.facts["run"]
    t = np.linspace(run["start_utc_s"], run["stop_utc_s"], 5)
    along = side.expected("time", "along", t)
    assert along.unit == "°"
    assert along.value[0] == 0.0
    assert np.all(np.diff(along.value) > 10)
    swept = side.expected("swept", "swept", t)
    assert np.abs(swept.value - along.value).max() < 4  # a quarter of a second at 15°/s


def test_flags_are_not_to_be_seen_before_they_drop(demo) -> None:
    ledger = demo.ledger("launch 1")
    mark = ledger.facts["run"]["marks"][1]
    side = demo.side(ledger)
    told = side.expected("time", mark["label"], np.array([mark["t_utc_s"] - 0.1, mark["t_utc_s"]]))
    assert told.texts == ((), (mark["text"].partition(" ")[0],))
    assert told.unit == "s"


def test_by_the_facts_alone(demo) -> None:
    """Whoever has no rows may ask as well."""
    ledger = demo.ledger("turn 1 to starboard")
    side = replace(demo.side(ledger), shows=LogSide.open(demo.sheet_path, ledger.facts).shows)
    t = ledger.rows["t_utc_s"].to_numpy()[:20]
    for instrument, item in (("speed", "value"), ("swept", "swept"), ("heel", "value")):
        assert len(side.expected(instrument, item, t).texts) == 20


def test_what_nobody_knows_is_told(demo) -> None:
    side = demo.side(demo.ledger("launch 1"))
    with pytest.raises(CannotRecompute, match="does not say what 'depth' shows as 'value'"):
        side.expected("depth", "value", np.array([0.0]))


def test_a_log_that_cannot_be_read_is_told(demo) -> None:
    ledger = demo.ledger("launch 1")
    side = demo.side(ledger)
    day = replace(side.day, unread={"engine": "the log 'engine' is a log of a CAN bus"})
    held = compare_with(replace(side, day=day), ledger)
    assert [(one.instrument, one.why) for one in held.not_held] == [
        ("engine", "the log 'engine' is a log of a CAN bus")
    ]
    assert held.notes == ("not read a second time: the log 'engine' is a log of a CAN bus",)
    assert ("engine", "value") not in held.held


def test_rows_of_the_log_around_an_instant(demo) -> None:
    ledger = demo.ledger("launch 1")
    side = demo.side(ledger)
    t = ledger.facts["run"]["start_utc_s"] + 5.0
    rows = side.rows_around("speed", t, 2)
    assert len(rows) == 4
    assert all("RMC" in row.text for row in rows)
    lines = (demo.sheet_path.parent / "logs" / "gps.nmea").read_text().splitlines()
    assert [lines[row.line - 1] for row in rows] == [row.text for row in rows]
    # The delay of 0.2 s is taken out: what was true at t stands 0.2 s later in the log.
    assert rows[1].t_utc_s <= t <= rows[2].t_utc_s
    delay = read_sheet(demo.sheet_path).late("gps", "speed").delay_s
    clock = rows[1].text.split(",")[1]
    stamped = int(clock[:2]) * 3600 + int(clock[2:4]) * 60 + float(clock[4:])
    assert (rows[1].t_utc_s + delay) % 86400 == pytest.approx(stamped, abs=1e-5)
    assert side.rows_around("depth", t) == ()
    engine = side.rows_around("engine_speed", t, 1)
    assert all(row.text.count(",") == 5 for row in engine)
