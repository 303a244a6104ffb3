"""The truth is what the noise-free series say, and the sheet says what was simulated."""

from __future__ import annotations

import json
import math
import tomllib

import numpy as np
import pytest

from demo_media import DemoTrial
from sync.units import parse_quantity

MPH = 0.44704  # NIST SP 811: exactly 0.447 04 m/s


def test_launch_times_follow_from_the_series(demo: DemoTrial) -> None:
    series = np.load(demo.folder / "truth.npz")
    document = json.loads(demo.truth_path.read_text(encoding="utf-8"))
    assert document["schema"] == "truth/1"
    start = demo.truth.launch_utc_s - (demo.truth.button_utc_s - 148.05236)
    t, speed = series["t_s"], series["speed_mps"]
    first_lever = t[(t > 60) & (series["lever"] > 0)][0]
    assert start == pytest.approx(first_lever, abs=0.011)
    for mph, told in document["launch_times_s"].items():
        after = (t >= start) & (t < start + 25)
        reached = np.interp(float(mph) * MPH, speed[after], t[after])  # speed rises throughout
        assert told == pytest.approx(float(reached) - start, abs=1e-6)


def test_speed_rises_without_a_break_through_the_ladder(demo: DemoTrial) -> None:
    series = np.load(demo.folder / "truth.npz")
    t = series["t_s"]
    rising = series["speed_mps"][(t > 74.5) & (t < 90)]  # until then it drifts astern
    assert np.all(np.diff(rising) > 0)


def test_sound_arrives_after_its_flight(demo: DemoTrial) -> None:
    # 331.3·√(1 + T/273.15) m/s: about 341.5 m/s at 17 °C
    truth = demo.truth
    assert truth.sound_speed_mps == pytest.approx(331.3 * math.sqrt(1 + 17 / 273.15))
    flight = truth.clap_heard_footage_s - truth.clap_seen_footage_s
    assert flight == pytest.approx(1.5 / 341.45, abs=1e-5)
    assert truth.clap_seen_footage_s + truth.footage_offset_s == pytest.approx(
        truth.clap_utc_s, abs=1e-6
    )


def test_the_cameras_clock_is_wrong_by_what_is_told(demo: DemoTrial) -> None:
    truth = demo.truth
    off = truth.footage_creation_utc_s - truth.footage_offset_s
    assert truth.camera_fast_s - 1 < off <= truth.camera_fast_s  # the container's whole seconds


def test_sheet_is_toml_whose_files_exist(demo: DemoTrial) -> None:
    sheet = tomllib.loads(demo.sheet.read_text(encoding="utf-8"))
    assert sheet["schema"] == "trial/1"
    assert sheet["ladder"] == {"unit": "mph", "speeds": [10, 20, 30, 40]}
    assert f"{sheet['date']:%Y-%m-%d}" == "2026-06-11"
    for log in sheet["logs"]:
        assert (demo.folder / log["file"]).is_file(), log
    assert sheet["recordings"][0]["files"] == ["footage/bow.mp4"]
    assert sheet["clips"][0]["recording"] == sheet["recordings"][0]["name"]


def test_sheets_quantities_are_those_of_the_units_list(demo: DemoTrial) -> None:
    sheet = tomllib.loads(demo.sheet.read_text(encoding="utf-8"))
    boat, engine = sheet["boat"], sheet["engines"][0]
    assert parse_quantity(sheet["load"]["test_mass"], "mass") == 1180
    assert parse_quantity(boat["length"], "length") == 6.0
    assert parse_quantity(engine["power"], "power") == pytest.approx(150 * 745.699872)
    assert parse_quantity(sheet["propeller"]["pitch"], "length") == pytest.approx(21 * 0.0254)
    assert parse_quantity(sheet["load"]["usable_tank"], "volume") == pytest.approx(27 * 0.003785412)
    assert parse_quantity(sheet["conditions"]["wind"], "speed") == pytest.approx(5 * 1852 / 3600)
    delays = {
        (s["log"], s["channel"]): parse_quantity(s["delay"], "time") for s in sheet["sensors"]
    }
    assert delays["gps", "speed"] == demo.truth.delays_s["gps.speed"]
    assert delays["engine", "engine_speed"] == demo.truth.delays_s["engine.engine_speed"]
    assert delays["engine", "throttle"] == demo.truth.delays_s["engine.throttle"]
    assert delays["attitude", "pitch"] == demo.truth.delays_s["attitude"]
