"""What `trialreel lineup` prints."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from film import Film, make_film
from log_samples import nmea, rmc

from overlay.cli.app import run

SHEET = """\
schema = "trial/1"
[[logs]]
name = "gps"
file = "gps.nmea"
[[recordings]]
name = "bow"
files = ["bow.mp4"]
ties = [{ frame = 0, utc = 2026-06-11T09:00:05.010Z }]
"""


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    speeds = [0.0] * 60 + [min(30.0, i * 0.5) for i in range(200)] + [30.0] * 40
    rows = (rmc(f"0900{i / 10:05.2f}", f"{kn:.1f}") for i, kn in enumerate(speeds))
    (tmp_path / "gps.nmea").write_text(nmea(rows))
    make_film(tmp_path / "bow.mp4", Film(frames=90))
    path = tmp_path / "trial.toml"
    path.write_text(SHEET)
    return path


def test_the_answer_says_where_all_lies(sheet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["lineup", "--trial", str(sheet)]) == 0
    said = capsys.readouterr().out
    assert f"written: {sheet.with_name('lineup')}" in said
    assert "UTC time" in said
    assert "bow  09:00:05:0" in said
    assert "ms early" in said or "ms late" in said
    assert "the tie itself is ±" in said
    assert "the sheet has no `time_zone`" in said
    for name in ("lineup.otio", "recordings/bow.edl", "runs.edl"):
        assert name in said
        assert sheet.with_name("lineup").joinpath(name).is_file()


def test_the_answer_as_json_has_every_marker(
    sheet: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["lineup", "--trial", str(sheet), "--rate", "29.97", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["schema"] == "lineup-made/1"
    assert (told["rate_hz"], told["timecode"]) == ("30000/1001", "29.97 drop")
    assert told["markers"][0]["name"] == "launch 1"
    assert {row["kind"] for row in told["markers"]} == {"run", "mark"}
    assert told["runs_listed"] == 1
    assert told["recordings"][0]["frames"] in (89, 90)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--rate", "120"], "no timecode counts 120.000 frames a second"),
        (["--rate", "many"], "'many' is not a number"),
        (["--handles", "2"], "no unit"),
        (["--handles", "2 kn"], "one of time is wanted"),
        (["--handles", "-2 s"], "between 0 s and 10 min"),
    ],
)
def test_a_wrong_option_is_one_sentence(
    sheet: Path, arguments: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["lineup", "--trial", str(sheet), *arguments]) == 2
    said = capsys.readouterr().err.strip()
    assert says in said
    assert "\n" not in said
    assert not sheet.with_name("lineup").exists()


def test_nothing_is_tied_and_so_nothing_can_be_said(
    sheet: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet.write_text(SHEET[: SHEET.index("ties")])
    assert run(["lineup", "--trial", str(sheet)]) == 3
    said = capsys.readouterr().err.strip()
    assert said.startswith("trialreel: none of the recordings can be lined up: bow: ")
    assert "\n" not in said


def test_its_help_loads_neither_the_sequence_nor_the_film() -> None:
    code = (
        "from overlay.cli.app import run\n"
        "run(['lineup', '--help'])\n"
        "import sys\n"
        "print(*sys.modules)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    said, _, loaded = ran.stdout.rstrip().rpartition("\n")
    assert "editing program" in said
    assert not {"opentimelineio", "av", "numpy", "pyarrow"} & set(loaded.split())
