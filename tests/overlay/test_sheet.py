"""The trial sheet: what it takes, and how it says what it cannot take."""

import datetime as dt
import json
from pathlib import Path

import pytest

from overlay.errors import SheetError
from overlay.sheet import load_sheet, sheet_schema
from overlay.sheet.fields import safe_name

GOOD = """\
schema = "trial/1"
name = "Tern 640"
date = 2026-06-11
time_zone = "Europe/Helsinki"
units = "us"

[boat]
length = "6.4 m"

[[engines]]
power = "150 hp"
rated_rpm = [5000, 6000]

[load]
usable_tank = "27 US gal"

[[logs]]
name = "gps"
file = "logs/gps.nmea"

[[sensors]]
log = "gps"
channel = "speed"
delay = "0.2 s"

[[recordings]]
name = "bow"
files = ["bow.mp4"]

[[clips]]
name = "launch"
recording = "bow"
"""


def write(folder: Path, text: str) -> Path:
    path = folder / "trial.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_quantities_come_out_in_si(tmp_path: Path) -> None:
    sheet = load_sheet(write(tmp_path, GOOD))
    assert sheet.boat.length == pytest.approx(6.4)
    # NIST SP 811 appendix B.8: 1 hp (550 ft·lbf/s) = 745.6999 W; 1 US gal = 3.785 411 784 L.
    assert sheet.engines[0].power == pytest.approx(150 * 745.699872, rel=1e-7)
    assert sheet.load.usable_tank == pytest.approx(27 * 3.785411784e-3, rel=1e-12)
    assert sheet.sensors[0].delay == pytest.approx(0.2)


def test_a_sheet_with_nothing_but_its_version_is_a_sheet(tmp_path: Path) -> None:
    sheet = load_sheet(write(tmp_path, 'schema = "trial/1"\n'))
    assert sheet.logs == []
    assert sheet.ladder_speeds().unit == "kn"


@pytest.mark.parametrize(
    ("units", "unit", "speeds"),
    [
        ("us", "mph", [10, 20, 30, 40]),
        ("nautical", "kn", [10, 20, 30, 40]),
        ("metric", "km/h", [20, 40, 60, 80]),
    ],
)
def test_each_unit_set_has_a_ladder_of_its_own(
    tmp_path: Path, units: str, unit: str, speeds: list[float]
) -> None:
    sheet = load_sheet(write(tmp_path, f'schema = "trial/1"\nunits = "{units}"\n'))
    assert (sheet.ladder_speeds().unit, sheet.ladder_speeds().speeds) == (unit, speeds)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("length =", "lenght =", ["line 8", "boat.lenght", "no such key", "'length'"]),
        ('"6.4 m"', '"6.4 deg"', ["boat.length", "unit of angle", "of length is wanted"]),
        ('"6.4 m"', '"6.4 smoots"', ["boat.length", "'smoots' is not a unit", "allowed: m"]),
        ('"6.4 m"', "6.4", ["boat.length", "has no unit", "'6.4 m'"]),
        ('"6.4 m"', '"6,4 m"', ["boat.length", "comma"]),
        ('"6.4 m"', '"0 m"', ["boat.length", "too small"]),
        ('"0.2 s"', '"0.2 kn"', ["sensors[1].delay", "unit of speed"]),
        ('channel = "speed"', 'channel = "sped"', ["sensors[1].channel", "'speed'"]),
        ('log = "gps"', 'log = "gsp"', ["'gsp'", "gps"]),
        ('units = "us"', 'units = "usa"', ["line 5", "units", "'us'", "nautical"]),
        ("[5000, 6000]", "[6000, 5000]", ["engines[1]", "lower first"]),
        ('"Europe/Helsinki"', '"Europe/Atlantis"', ["time_zone", "not a time zone"]),
        ('recording = "bow"', 'recording = "stern"', ["'stern'", "does not list", "bow"]),
        ('"trial/1"', '"trial/9"', ["schema", "'trial/1'"]),
        ('name = "bow"', 'name = "../bow"', ["recordings[1].name", "without slashes"]),
        ("[boat]", "[boot]", ["boot", "no such key", "'boat'"]),
        ("[boat]", "[boat", ["not TOML"]),
    ],
)
def test_what_is_wrong_is_said_in_one_sentence(
    tmp_path: Path, old: str, new: str, said: list[str]
) -> None:
    assert GOOD.count(old) >= 1
    path = write(tmp_path, GOOD.replace(old, new, 1))
    with pytest.raises(SheetError) as caught:
        load_sheet(path)
    sentence = str(caught.value)
    assert sentence.startswith(str(path))
    assert "\n" not in sentence
    for part in said:
        assert part in sentence


MORE = """\
schema = "trial/1"
date = 2026-06-11
fuel_flow_from = "meter"
[boat]
bottom = "clean"
bottom_paint = "hard white"
[[engines]]
mount_height = "-1 in"
[propeller]
cup = "1.5 mm"
[load]
ethanol = "10 %"
seating = "both at the helm"
[conditions]
pressure = "1009 hPa"
humidity = "60 %"
wave_height = "0.2 m"
depth = "12 m"
[fuel_check]
refilled = "41.5 L"
start = 2026-06-11T04:00:00Z
stop = 2026-06-11T06:00:00Z
[[logs]]
name = "gps"
file = "gps.nmea"
[[sensors]]
log = "gps"
channel = "speed"
calibrated = 2026-05-02
[[runs]]
name = "launch 1"
start = 2026-06-11T04:10:00Z
stop = 2026-06-11T04:11:00Z
trim = "-5 %"
tabs = "25 %"
"""


def test_what_else_bears_on_a_trial_has_its_place(tmp_path: Path) -> None:
    sheet = load_sheet(write(tmp_path, MORE))
    assert (sheet.boat.bottom, sheet.boat.bottom_paint) == ("clean", "hard white")
    # NIST SP 811 appendix B.8: 1 in = 25.4 mm exactly.
    assert sheet.engines[0].mount_height == pytest.approx(-0.0254)
    assert sheet.propeller.cup == pytest.approx(0.0015)
    assert (sheet.load.ethanol, sheet.load.seating) == (pytest.approx(0.10), "both at the helm")
    assert sheet.conditions.pressure == pytest.approx(100_900)
    assert sheet.conditions.humidity == pytest.approx(0.6)
    assert (sheet.conditions.wave_height, sheet.conditions.depth) == (0.2, 12.0)
    assert sheet.fuel_check is not None
    assert sheet.fuel_check.refilled == pytest.approx(0.0415)
    assert sheet.fuel_flow_from == "meter"
    assert sheet.sensors[0].calibrated == dt.date(2026, 5, 2)
    assert (sheet.runs[0].trim, sheet.runs[0].tabs) == (pytest.approx(-0.05), pytest.approx(0.25))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"60 %"', "60", ["conditions.humidity", "has no unit", "'60 %'"]),
        ('"60 %"', '"160 %"', ["conditions.humidity", "'160 %' is too much"]),
        ('"10 %"', '"-1 %"', ["load.ethanol", "too small"]),
        ('ethanol = "10 %"', 'ethanol = "10 %"\nfuel_kind = "diesel"', ["load", "petrol only"]),
        ('"1009 hPa"', '"1009 bar"', ["conditions.pressure", "too much"]),
        ('"1009 hPa"', '"30 psi"', ["conditions.pressure", "too much"]),
        ('"clean"', '"cleen"', ["boat.bottom", "'clean'"]),
        ('"hard white"', '""', ["boat.bottom_paint", "one line of words"]),
        ('"both at the helm"', '"both\\nat the helm"', ["load.seating", "one line of words"]),
        ('"-1 in"', '"-100 in"', ["engines[1].mount_height", "too much"]),
        ('"1.5 mm"', '"1.5 m"', ["propeller.cup", "too much"]),
        ('"0.2 m"', '"0.2 kn"', ["conditions.wave_height", "unit of speed"]),
        ('"12 m"', '"0 m"', ["conditions.depth", "too small"]),
        ("= 2026-05-02", "= 1926-05-02", ["sensors[1].calibrated", "not a day of any trial"]),
        ("= 2026-05-02", '= "spring"', ["sensors[1].calibrated", "not a day, such as"]),
        ("= 2026-05-02", "= 2026-05-02T10:00:00Z", ["calibrated", "not a day, such as"]),
        ('"25 %"', '"125 %"', ["runs[1].tabs", "too much"]),
        ('"-5 %"', '"5 deg"', ["runs[1].trim", "unit of angle"]),
        ("T06:00:00Z", "T03:00:00Z", ["fuel_check", "stop must come after start"]),
        ('refilled = "41.5 L"\n', "", ["fuel_check.refilled", "missing"]),
        ('"meter"', '"metre"', ["fuel_flow_from", "'meter'"]),
    ],
)
def test_what_else_bears_on_a_trial_is_checked(
    tmp_path: Path, old: str, new: str, said: list[str]
) -> None:
    assert MORE.count(old) == 1
    path = write(tmp_path, MORE.replace(old, new, 1))
    with pytest.raises(SheetError) as caught:
        load_sheet(path)
    sentence = str(caught.value)
    assert "\n" not in sentence
    for part in said:
        assert part in sentence


def test_what_a_sheet_says_beside_the_logs_has_its_meaning_written_down() -> None:
    parts = sheet_schema()["$defs"]
    for part, keys in {
        "Boat": ("bottom", "bottom_paint"),
        "Engine": ("mount_height",),
        "Propeller": ("cup",),
        "Load": ("ethanol", "seating"),
        "Conditions": ("pressure", "humidity", "wave_height", "depth"),
        "FuelCheck": ("refilled", "start", "stop"),
        "Sensor": ("calibrated",),
        "Run": ("trim", "tabs"),
    }.items():
        for key in keys:
            assert len(parts[part]["properties"][key]["description"]) > 15, (part, key)


def test_a_missing_sheet_is_told_with_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(SheetError, match="trialreel new"):
        load_sheet(tmp_path / "trial.toml")


def test_two_logs_of_one_name_are_refused(tmp_path: Path) -> None:
    text = GOOD + '\n[[logs]]\nname = "gps"\nfile = "other.nmea"\n'
    with pytest.raises(SheetError, match="two logs are called 'gps'"):
        load_sheet(write(tmp_path, text))


def test_the_schema_knows_every_key_and_forbids_others() -> None:
    schema = sheet_schema()
    json.dumps(schema)
    assert schema["additionalProperties"] is False
    assert {"schema", "boat", "engines", "logs", "recordings", "clips"} <= set(schema["properties"])
    assert "US gal" in json.dumps(schema, ensure_ascii=False)


@pytest.mark.parametrize(
    ("name", "file"),
    [("launch 1", "launch-1"), ("../../etc", "etc"), ("über/40", "über-40"), (".hidden", "hidden")],
)
def test_names_become_safe_file_names(name: str, file: str) -> None:
    assert safe_name(name) == file


def test_a_name_without_a_letter_is_no_file_name() -> None:
    with pytest.raises(ValueError, match="no letter"):
        safe_name("../..")


TIED_TWICE = """\
schema = "trial/1"
[[recordings]]
name = "bow"
files = ["bow.mp4"]
[[recordings.ties]]
frame = 0
utc = 2026-06-11T09:00:02Z
[[recordings]]
name = "stern"
files = ["stern.mp4"]
[[recordings.ties]]
frame = 0
utc = 2026-06-11T09:00:02Z
[[recordings.ties]]
frame = 3
utc = 2026-06-11T09:00:02Z
"""


@pytest.mark.parametrize(
    ("old", "new", "line", "key"),
    [
        ("frame = 3", "frmae = 3", 15, "recordings[2].ties[2].frmae"),
        ("frame = 3", "frame = -3", 15, "recordings[2].ties[2].frame"),
        ("frame = 3\n", "", 14, "recordings[2].ties[2].frame"),  # missing: where its table begins
        ('files = ["stern.mp4"]', 'files = [\n  "a.mp4",\n  3,\n]', 10, "recordings[2].files[2]"),
    ],
)
def test_a_slip_is_told_on_its_line_however_deep_it_lies(
    old: str, new: str, line: int, key: str, tmp_path: Path
) -> None:
    with pytest.raises(SheetError) as caught:
        load_sheet(write(tmp_path, TIED_TWICE.replace(old, new)))
    assert f"trial.toml, line {line}, {key}: " in str(caught.value)
