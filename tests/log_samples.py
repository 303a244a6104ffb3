"""One sound sample of every log format, and the settings that it needs.

The contracts of `tests/sync/test_readers_contract.py` damage these in every way that files
get damaged. A sample ends with a line end, begins with its head (which by itself holds no
value), and has at least four epochs or rows.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cache, reduce
from operator import xor

from sync.readers import LogSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """A log's text; its head, without values; one channel in it, with its values in SI.

    A format of bytes has no lines to damage: `binary` makes the log and an empty one.
    """

    channel: str
    values: tuple[float, ...]
    text: str = ""
    head: str = ""
    binary: Callable[[], tuple[bytes, bytes]] | None = None
    settings: LogSettings = field(default_factory=LogSettings)

    @property
    def data(self) -> bytes:
        """The log as it stands in a file."""
        return self.text.encode() if self.binary is None else self.binary()[0]

    @property
    def head_data(self) -> bytes:
        """The log without values."""
        return self.head.encode() if self.binary is None else self.binary()[1]


def sentence(body: str) -> str:
    """A body with its `$` and checksum: the XOR of the characters between `$` and `*`."""
    return f"${body}*{reduce(xor, body.encode(), 0):02X}"


def nmea(bodies: Iterable[str]) -> str:
    """Bodies as a log, a sentence a line."""
    return "".join(f"{sentence(body)}\n" for body in bodies)


def rmc(clock: str, knots: str, *, status: str = "A", date: str = "110626") -> str:
    """The body of an RMC off an invented shore."""
    return f"GPRMC,{clock},{status},6005.071,N,02332.346,E,{knots},045.0,{date},,,A"


KNOTS = (0.0, 3.6, 7.2, 10.8, 14.4)
KNOT = 1852 / 3600  # m/s, exactly (BIPM SI Brochure)

REVS = (10.0, 11.0, 12.0, 13.0, 14.0)

GPX_HEAD = '<?xml version="1.0"?>\n<gpx version="1.0" creator="a test"><trk><trkseg>\n'
GPX_END = "</trkseg></trk></gpx>\n"


def engine_rapid(instance: int, rpm: float, source: int = 3) -> str:
    """The fields of PGN 127488 behind the priority, in plain text; 0.25 rpm to a step."""
    low, high = round(rpm * 4).to_bytes(2, "little")
    return f"127488,{source},255,8,{instance:02x},{low:02x},{high:02x},ff,ff,7f,ff,ff"


@cache
def parquet() -> tuple[bytes, bytes]:
    """A Parquet table of five rows, and one of none."""
    import pyarrow as pa
    from pyarrow import parquet as pq

    files = []
    for rows in (5, 0):
        table = pa.table(
            {
                "time (s)": [i / 10 for i in range(rows)],
                "rpm": [600.0 + 60 * i for i in range(rows)],
            },
            schema=pa.schema([("time (s)", pa.float64()), ("rpm", pa.float64())]),
        )
        sink = pa.BufferOutputStream()
        pq.write_table(table, sink)
        files.append(sink.getvalue().to_pybytes())
    return files[0], files[1]


@cache
def mdf() -> tuple[bytes, bytes]:
    """An MDF 4 file with a signal of five samples, and one without a signal."""
    import tempfile
    from pathlib import Path

    import numpy as np
    from asammdf import MDF, Signal

    files = []
    with tempfile.TemporaryDirectory() as folder:
        for rows in (5, 0):
            with MDF(version="4.10") as file:
                file.start_time = dt.datetime(2026, 6, 11, 9, tzinfo=dt.UTC)
                if rows:
                    t = np.arange(rows) / 10
                    file.append([Signal(600.0 + 600 * t, t, name="rpm", unit="rpm")])
                path = file.save(Path(folder) / f"{rows}.mf4")
            files.append(Path(path).read_bytes())
    return files[0], files[1]


SAMPLES: dict[str, Sample] = {
    "nmea0183": Sample(
        text=nmea(rmc(f"09000{i}.00", f"{v:.1f}") for i, v in enumerate(KNOTS)),
        head=nmea(["GPGSV,1,1,00", "GPTXT,01,01,02,aerial ok"]),
        channel="speed",
        values=tuple(v * KNOT for v in KNOTS),
    ),
    "delimited": Sample(
        text="time (s),rpm,event\n" + "".join(f"{i / 10},{600 + 60 * i},\n" for i in range(5)),
        head="time (s),rpm,event\n",
        channel="engine_speed",
        values=(10.0, 11.0, 12.0, 13.0, 14.0),
        settings=LogSettings(date=dt.date(2026, 6, 11)),
    ),
    "canbus": Sample(
        text="# a bus, a message a line\n"
        "2026-06-11T09:00:00.000Z,6,60928,1,255,8,01,02,03,04,05,06,07,08\n"
        + "".join(
            f"2026-06-11T09:00:0{i}.000Z,2,{engine_rapid(0, 600 + 60 * i)}\n" for i in range(5)
        ),
        head="# a bus, a message a line\n"
        "2026-06-11T09:00:00.000Z,6,60928,1,255,8,01,02,03,04,05,06,07,08\n",
        channel="engine_speed",
        values=(10.0, 11.0, 12.0, 13.0, 14.0),
    ),
    "gpx": Sample(
        text=GPX_HEAD
        + "".join(
            f'<trkpt lat="60.0{i}" lon="23.5"><time>2026-06-11T09:00:0{i}Z</time>'
            f"<speed>{i}.5</speed></trkpt>\n"
            for i in range(5)
        )
        + GPX_END,
        head=GPX_HEAD + GPX_END,
        channel="latitude",
        values=(60.00, 60.01, 60.02, 60.03, 60.04),
    ),
    "parquet": Sample(binary=parquet, channel="engine_speed", values=REVS),
    "mdf": Sample(binary=mdf, channel="engine_speed", values=REVS),
}
