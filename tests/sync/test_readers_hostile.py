"""Files made to take all time or memory are read or refused in bounded time and memory."""

from __future__ import annotations

import io
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

MIB = 2**20
SIZE = 10 * MIB

CHILD = """
import resource, sys, time
from pathlib import Path
import pandas, gpxpy, pyarrow.parquet
from sync.errors import SyncError
from sync.readers import LogSettings, read_log
import datetime as dt
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
start = time.process_time()
try:
    read_log(Path(sys.argv[1]), settings=LogSettings(format=sys.argv[2], date=dt.date(2026, 6, 11)))
except SyncError as error:
    assert len(str(error)) < 2000
grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
print(time.process_time() - start, grown / 1024)
"""

MOST_S = 15.0
MOST_MIB = 600.0
"""Sixty times the size of the file, and so of the order of what a table of single digits takes."""


def parquet_of_noughts() -> bytes:
    """Thirty million rows in a quarter of a megabyte."""
    import numpy as np
    import pyarrow as pa
    from pyarrow import parquet as pq

    noughts = np.zeros(30_000_000)
    sink = io.BytesIO()
    pq.write_table(pa.table({"time (s)": noughts, "rpm": noughts}), sink, compression="zstd")
    return sink.getvalue()


CASES: dict[str, tuple[str, Callable[[], bytes]]] = {
    "one line of commas as sentences": ("nmea0183", lambda: b"," * SIZE),
    "one sentence of commas": ("nmea0183", lambda: b"$GPRMC" + b"," * SIZE),
    "one line of dollar signs": ("nmea0183", lambda: b"$" * SIZE),
    "nothing but line ends": ("nmea0183", lambda: b"\n" * SIZE + b"x"),
    "one line of commas as a table": ("delimited", lambda: b"," * SIZE),
    "a quotation that never ends": ("delimited", lambda: b'time (s),rpm\n"' + b"1," * (SIZE // 2)),
    "one line of commas as messages": ("canbus", lambda: b"," * SIZE),
    "deep XML": ("gpx", lambda: b'<gpx version="1.1"><trk>' + b"<a>" * (SIZE // 3)),
    "a packed table": ("parquet", parquet_of_noughts),
    "a measurement file that says it is huge": (
        "mdf",
        lambda: b"MDF     4.10    ".ljust(64, b"\0") + b"##HD" + b"\0" * 4 + b"\xff" * 16,
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_a_hostile_file_costs_little(case: str, tmp_path: Path) -> None:
    key, make = CASES[case]
    path = tmp_path / "log"
    path.write_bytes(make())
    ran = subprocess.run(
        [sys.executable, "-c", CHILD, str(path), key],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr[-500:]
    took, grown = map(float, ran.stdout.split())
    assert took < MOST_S
    assert grown < MOST_MIB
