"""One sound sample of every log format, and the settings that it needs.

The contracts of `tests/sync/test_readers_contract.py` damage these in every way that files
get damaged. A sample ends with a line end, begins with its head (which by itself holds no
value), and has at least four epochs or rows.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import reduce
from operator import xor

from sync.readers import LogSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """A log's text; its head, without values; one channel in it, with its values in SI."""

    text: str
    head: str
    channel: str
    values: tuple[float, ...]
    settings: LogSettings = field(default_factory=LogSettings)


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
}
