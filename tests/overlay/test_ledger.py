"""The record of what a render showed."""

import math
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from overlay.ledger import LedgerWriter, Shown, read_ledger

SHOWN = Shown(
    instrument="speed",
    item="value",
    text="31.4",
    value=14.04,
    unit="mph",
    t_shown_s=1781170000.25,
    box_px=(96, 40, 210, 80),
    font="SourceSansPro-Semibold.ttf",
    size_px=72,
)


def test_what_was_recorded_is_read_back(tmp_path: Path) -> None:
    path = tmp_path / "clip.ledger.parquet"
    with LedgerWriter(path, {"clip": "launch"}, {"speed": ("speed", "gps")}) as ledger:
        for frame in range(50):
            t = frame / 30
            ledger.record(frame, frame * 3000, t, 1781170000.0 + t, (SHOWN, SHOWN))
    back = read_ledger(path)
    assert back.facts["schema"] == "ledger/1"
    assert back.facts["clip"] == "launch"
    assert len(back.rows) == 100
    row = back.rows.iloc[99]
    assert (row["frame"], row["pts"], row["text"], row["unit"]) == (49, 147000, "31.4", "mph")
    assert (row["x_px"], row["y_px"], row["width_px"], row["height_px"]) == SHOWN.box_px
    assert row["t_utc_s"] == 1781170000.0 + 49 / 30
    assert row["utc"].isoformat().startswith("2026-06-11T09:26:41.6333")
    assert (row["channel"], row["log"]) == ("speed", "gps")
    assert row["value_si"] == SHOWN.value
    assert list(tmp_path.iterdir()) == [path]


def test_a_missing_value_stays_missing(tmp_path: Path) -> None:
    import dataclasses

    path = tmp_path / "clip.ledger.parquet"
    empty = dataclasses.replace(SHOWN, text="––", value=math.nan)
    with LedgerWriter(path, {}) as ledger:
        ledger.record(0, 0, 0.0, 0.0, (empty,))
    assert math.isnan(read_ledger(path).rows.iloc[0]["value_si"])


def test_nothing_is_left_of_a_ledger_that_was_broken_off(tmp_path: Path) -> None:
    def broken_off() -> None:
        with LedgerWriter(tmp_path / "clip.ledger.parquet", {}) as ledger:
            ledger.record(0, 0, 0.0, 0.0, (SHOWN,))
            raise RuntimeError("the camera fell overboard")

    with pytest.raises(RuntimeError, match="the camera fell"):
        broken_off()
    assert list(tmp_path.iterdir()) == []


def test_a_table_of_something_else_is_no_ledger(tmp_path: Path) -> None:
    path = tmp_path / "other.parquet"
    pq.write_table(pa.table({"a": [1]}), path)
    with pytest.raises(ValueError, match="no ledger"):
        read_ledger(path)
