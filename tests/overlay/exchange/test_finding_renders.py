"""Renders are found by their ledgers, and what a ledger says is not believed beyond reason."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from overlay.exchange.grid import grid_from
from overlay.exchange.lineup import place_renders
from overlay.exchange.renders import Pictures, find_renders
from overlay.ledger import LedgerWriter
from sync.timecode import RATES

FACTS = {
    "start_utc_s": 1_781_170_000.0,
    "rate_hz": "30000/1001",
    "frames": 3,
    "timecode": "12:26:40;00",
    "alpha": "straight",
    "run": "launch 1",
}


def written(folder: Path, stem: str, **facts: object) -> Path:
    path = folder / f"{stem}.ledger.parquet"
    with LedgerWriter(path, {"transparent": {**FACTS, **facts}}):
        pass
    return path


def pictures(folder: Path, *numbers: int, name: str = "a b-{:06d}.png") -> None:
    folder.mkdir()
    for number in numbers:
        (folder / name.format(number)).write_bytes(b"\x89PNG")


@pytest.mark.parametrize("end", [".mov", ".webm"])
def test_a_film_lies_beside_its_ledger(tmp_path: Path, end: str) -> None:
    (tmp_path / f"launch 1{end}").write_bytes(b"film")
    found = find_renders([written(tmp_path, "launch 1")])
    (one,) = found.transparent
    assert one.path == tmp_path / f"launch 1{end}"
    assert (one.pictures, one.frames, one.rate_hz) == (None, 3, Fraction(30000, 1001))
    assert (found.clips, found.passed_over) == ((), ())


def test_a_row_of_pictures_lies_in_a_folder(tmp_path: Path) -> None:
    pictures(tmp_path / "a b", 7, 8, 9)
    (one,) = find_renders([written(tmp_path, "a b")]).transparent
    assert one.path == tmp_path / "a b"
    assert one.pictures == Pictures(prefix="a b-", first=7, digits=6)


@pytest.mark.parametrize(
    ("facts", "why"),
    [
        ({"frames": 10**12}, "1000000000000 frames"),
        ({"frames": 0}, "0 frames"),
        ({"rate_hz": "0"}, "at 0 a second"),
        ({"rate_hz": "1/0"}, "Fraction"),
        ({"rate_hz": "fast"}, "fast"),
        ({"rate_hz": "1e2000000"}, "'1e2000000' is no number of frames a second"),
        ({"start_utc_s": float("nan")}, "nan"),
        ({"start_utc_s": 1e300}, "in no year"),
        ({"frames": None}, "NoneType"),
    ],
)
def test_a_ledger_that_cannot_be_is_passed_over(tmp_path: Path, facts: dict, why: str) -> None:
    (tmp_path / "launch 1.mov").write_bytes(b"film")
    found = find_renders([written(tmp_path, "launch 1", **facts)])
    assert found.transparent == ()
    (told,) = found.passed_over
    assert told.startswith("launch 1.ledger.parquet is passed over: ")
    assert why in told
    assert "\n" not in told


def test_a_ledger_that_says_too_little_is_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "launch 1.ledger.parquet"
    with LedgerWriter(path, {"transparent": {"frames": 3}}):
        pass
    (told,) = find_renders([path]).passed_over
    assert told == "launch 1.ledger.parquet is passed over: it does not say 'rate_hz'"


@pytest.mark.parametrize("numbers", [(0, 1), (0, 1, 3), (), (0, 1, 2, 3)])
def test_pictures_that_are_not_all_there_are_passed_over(
    tmp_path: Path, numbers: tuple[int, ...]
) -> None:
    pictures(tmp_path / "a b", *numbers)
    (told,) = find_renders([written(tmp_path, "a b")]).passed_over
    assert "3 pictures, numbered in a row" in told


def test_renders_that_meet_lie_in_layers(tmp_path: Path) -> None:
    ledgers = []
    for stem, after_s in (("a", 0.0), ("b", 0.05), ("c", 0.101), ("d", 0.2)):
        (tmp_path / f"{stem}.mov").write_bytes(b"film")
        start = FACTS["start_utc_s"] + after_s
        ledgers.append(written(tmp_path, stem, start_utc_s=start))
    grid = grid_from(FACTS["start_utc_s"] - 5, RATES["29.97 drop"], "UTC")
    placed = place_renders(find_renders(ledgers).transparent, grid)
    assert {one.render.stem: one.layer for one in placed} == {"a": 0, "b": 1, "c": 0, "d": 0}
    for one, other in ((a, b) for a in placed for b in placed if a is not b):
        assert one.layer != other.layer or one.stop <= other.start or other.stop <= one.start
    assert all(abs(one.off_s) <= 1001 / 60000 + 1e-6 for one in placed)


def with_facts(path: Path, document: bytes, rows: pa.Table | None = None) -> Path:
    """A Parquet file whose facts are what somebody else wrote."""
    table = pa.table({"frame": pa.array([0], pa.int32())}) if rows is None else rows
    pq.write_table(table.replace_schema_metadata({b"trialreel": document}), path)
    return path


@pytest.mark.parametrize(
    ("document", "why"),
    [
        (b"[1, 2]", "its facts are no table"),
        (b"null", "its facts are no table"),
        (b'"launch 1"', "its facts are no table"),
        (b"[" * 100_000, "its facts are no table"),
        (b"{", "Expecting"),
        (b'{"schema": "ledger/1"}', "it has no column 'instrument'"),
    ],
)
def test_odd_facts_are_passed_over(tmp_path: Path, document: bytes, why: str) -> None:
    (tmp_path / "a.mp4").write_bytes(b"film")
    found = find_renders([with_facts(tmp_path / "a.ledger.parquet", document)])
    assert (found.clips, found.transparent) == ((), ())
    (told,) = found.passed_over
    assert told.startswith("a.ledger.parquet is passed over: ")
    assert why in told


@pytest.mark.parametrize(
    ("column", "content", "why"),
    [
        ("frame", ["one"], "its frames are no whole numbers"),
        ("frame", [None], "its frames are no whole numbers"),
        ("text", [12.5], "its column 'text' is not all text"),
        ("unit", [None], "its column 'unit' is not all text"),
    ],
)
def test_odd_columns_are_passed_over(tmp_path: Path, column: str, content: list, why: str) -> None:
    (tmp_path / "a.mp4").write_bytes(b"film")
    names = ("instrument", "item", "text", "unit", "channel")
    columns = {"frame": pa.array([0], pa.int32())} | {name: pa.array(["a"]) for name in names}
    sound = with_facts(tmp_path / "a.ledger.parquet", b'{"schema": "ledger/1"}', pa.table(columns))
    assert len(find_renders([sound]).clips) == 1
    columns[column] = pa.array(content)
    odd = with_facts(tmp_path / "a.ledger.parquet", b'{"schema": "ledger/1"}', pa.table(columns))
    (told,) = find_renders([odd]).passed_over
    assert told == f"a.ledger.parquet is passed over: {why}"


@pytest.mark.parametrize("facts", [3, "launch 1", [1], True])
def test_what_is_said_of_a_transparent_render_is_a_table(tmp_path: Path, facts: object) -> None:
    path = tmp_path / "a.ledger.parquet"
    with LedgerWriter(path, {"transparent": facts}):
        pass
    (told,) = find_renders([path]).passed_over
    assert "what it says of its transparent render is no table" in told


def test_spare_renders_lie_above_those_that_are_shown(tmp_path: Path) -> None:
    ledgers = []
    for stem, after_s in (("a", 0.0), ("b", 0.05), ("c", 0.0)):
        (tmp_path / f"{stem}.mov").write_bytes(b"film")
        ledgers.append(written(tmp_path, stem, start_utc_s=FACTS["start_utc_s"] + after_s))
    grid = grid_from(FACTS["start_utc_s"] - 5, RATES["29.97 drop"], "UTC")
    a, b, c = find_renders(ledgers).transparent
    placed = {one.render.stem: (one.layer, one.live) for one in place_renders([a, b], grid, [c])}
    assert placed == {"a": (0, True), "b": (1, True), "c": (2, False)}
