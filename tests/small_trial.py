"""A small trial for tests of the whole road: one launch to 30 kn, one camera, tied by a typed time.

All of it is invented; films of it are a moving texture that `film.make_film` makes.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from film import Film, Track, make_film
from log_samples import nmea, rmc

from overlay.cli.app import run

RATE = 25
DAY = """\
schema = "trial/1"
name = "Tern"
units = "nautical"

[[logs]]
name = "gps"
file = "gps.nmea"

[[recordings]]
name = "bow"
files = ["bow.mp4"]
ties = [{ frame = 0, utc = 2026-06-11T09:00:02.000Z }]
"""
GO = """
[[clips]]
name = "go"
recording = "bow"
run = "launch 1"
faceplate = "quiet"
lead_in = "1 s"
lead_out = "0 s"
"""


def launch() -> str:
    """Ten fixes a second: rest, from 6 s on up to 30 kn, and that held."""
    speeds = [0.0] * 60 + [min(30.0, i * 0.5) for i in range(240)]
    return nmea(rmc(f"0900{i / 10:05.2f}", f"{kn:.1f}") for i, kn in enumerate(speeds))


def make_trial(
    folder: Path, sheet: str = DAY + GO, *, size: tuple[int, int] = (640, 360), sound: bool = True
) -> Path:
    """Log, sheet and fourteen seconds of film in a folder of their own."""
    folder.mkdir()
    (folder / "gps.nmea").write_text(launch())
    (folder / "trial.toml").write_text(sheet, encoding="utf-8")
    make_film(
        folder / "bow.mp4",
        Film(frames=14 * RATE, width=size[0], height=size[1], time_base=Fraction(1, 12800),
             steps=(512,), sound=(Track(),) if sound else (),
             options={"preset": "ultrafast", "g": "25"}),
    )  # fmt: skip
    return folder


def answered(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, Any]:
    """Exit code and answer of a command."""
    capsys.readouterr()
    code = run([*words, "--json"])
    said = capsys.readouterr()
    assert said.out, said.err
    return code, json.loads(said.out)


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str]:
    """Exit code and sentence of a command that cannot be done."""
    capsys.readouterr()
    code = run([*words])
    said = capsys.readouterr().err
    assert said.startswith("trialreel: ")
    assert said.count("\n") == 1
    assert "defect" not in said
    return code, said


def ledger_of(clip: Path) -> Path:
    return clip.with_name(f"{clip.stem}.ledger.parquet")


def rewrite_facts(ledger: Path, change: Callable[[dict[str, Any]], object]) -> None:
    """Write a ledger with other facts, its rows and prints left as they are."""
    table, kept = pq.read_table(ledger), dict(pq.read_metadata(ledger).metadata)
    facts = json.loads(kept[b"trialreel"])
    change(facts)
    _write(ledger, table, kept | {b"trialreel": json.dumps(facts).encode()})


def rewrite_rows(ledger: Path, column: str, change: Callable[[Any], Any], rows: slice) -> None:
    """Write some rows of a ledger otherwise, its facts and prints left as they are."""
    table, kept = pq.read_table(ledger), dict(pq.read_metadata(ledger).metadata)
    values = table[column].to_pylist()
    for row in range(*rows.indices(len(values))):
        values[row] = change(values[row])
    at = table.schema.get_field_index(column)
    column_of = pa.array(values, type=table.schema.field(at).type)
    _write(ledger, table.set_column(at, column, column_of), kept)


def _write(ledger: Path, table: pa.Table, kept: dict[bytes, bytes]) -> None:
    with pq.ParquetWriter(ledger, table.schema) as writer:
        writer.write_table(table)
        writer.add_key_value_metadata({k: v for k, v in kept.items() if k != b"ARROW:schema"})
