"""The boat's own dash in shot is explained where the sheet lists it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from overlay.errors import SheetError
from overlay.sheet import load_sheet
from overlay.trial import Material
from overlay.workflow.auditing.dash import dash_notes

SHEET = """\
schema = "trial/1"
units = "us"

[[recordings]]
name = "bow"
files = ["bow.mp4"]
{dash}
"""


def material(folder: Path, dash: str) -> Material:
    path = folder / "trial.toml"
    path.write_text(SHEET.format(dash=dash), encoding="utf-8")
    return Material(sheet_path=path, sheet=load_sheet(path), logs={}, footage={})


def rows(slope_mps2: float) -> pd.DataFrame:
    """Ten seconds of a speed that grows evenly, four times a second."""
    t = np.arange(0, 10, 0.25)
    return pd.DataFrame({"channel": "speed", "t_shown_s": t, "value_si": slope_mps2 * t})


def test_it_says_how_far_the_dash_may_be_off(tmp_path: Path) -> None:
    """At 2 m/s² eight tenths of a second are 1.6 m/s, 3.6 mph (0.44704 m/s, NIST SP 811)."""
    day = material(tmp_path, 'dash = { shows = "speed", lag = "0.8 s" }')
    (told,) = dash_notes({"recording": "bow"}, rows(2.0), day)
    assert "speed 0.8 s later" in told
    assert "up to 3.6 mph" in told


def test_a_sheet_without_one_says_nothing(tmp_path: Path) -> None:
    day = material(tmp_path, "")
    assert dash_notes({"recording": "bow"}, rows(2.0), day) == ()
    assert dash_notes({"recording": "stern"}, rows(2.0), day) == ()


def test_a_dash_of_something_we_do_not_show_is_told_all_the_same(tmp_path: Path) -> None:
    day = material(tmp_path, 'dash = { shows = "engine_speed", lag = "0.5 s" }')
    (told,) = dash_notes({"recording": "bow"}, rows(2.0), day)
    assert "nothing of ours" in told


@pytest.mark.parametrize(
    "odd", ['{ shows = "colour", lag = "1 s" }', '{ shows = "speed" }', '{ lag = "9 s" }']
)
def test_odd_ones_are_refused(tmp_path: Path, odd: str) -> None:
    with pytest.raises(SheetError):
        material(tmp_path, f"dash = {odd}")
