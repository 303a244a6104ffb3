"""`trialreel new` in folders that lack something."""

from __future__ import annotations

from pathlib import Path

import pytest

from overlay.errors import SheetError
from overlay.workflow.new import new


def sentence(body: str) -> str:
    total = 0
    for letter in body:
        total ^= ord(letter)
    return f"${body}*{total:02X}\r\n"


def nmea_without_a_day(path: Path) -> None:
    """Course and speed once a second, with the time of day that a GLL gives."""
    text = ""
    for n in range(40):
        text += sentence(f"IIVTG,224.4,T,,M,{5 + n / 10:.2f},N,,,D")
        text += sentence(f"GPGLL,6005.071,N,02332.346,E,0955{n:02d},A,D")
    path.write_text(text)


def test_a_log_without_a_day_gets_a_sheet_that_asks_for_it(tmp_path: Path) -> None:
    nmea_without_a_day(tmp_path / "boat.log")
    made = new(tmp_path)
    text = made.sheet_path.read_text()
    assert 'file = "boat.log"' in text
    assert "2000" not in text
    assert "\n# date = " in text
    assert made.unknown[0].startswith("the day")
    assert "times of day without a day: speed, course" in made.found[0]


def test_nothing_that_can_be_used_is_told_with_the_reason(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("wind got up after lunch\n")
    with pytest.raises(SheetError) as caught:
        new(tmp_path)
    assert "no log and no footage was found" in str(caught.value)
    assert "notes.txt" in str(caught.value)


def test_what_a_report_left_is_no_log(tmp_path: Path) -> None:
    nmea_without_a_day(tmp_path / "boat.log")
    for name in ("report", "report-metric"):
        (tmp_path / name / "tables").mkdir(parents=True)
        (tmp_path / name / "tables" / "passes.csv").write_text("time,speed_kn\n0,1\n1,2\n2,3\n")
    assert len(new(tmp_path).found) == 1


def test_what_is_the_crews_own_is_not_passed_over(tmp_path: Path) -> None:
    for name in ("report-20240611.log", "clips-bow/boat.log", "reports/boat.log"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        nmea_without_a_day(tmp_path / name)
    assert len(new(tmp_path).found) == 3
