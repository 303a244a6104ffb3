"""The ledger as a table: how it is written and read.

Columns:

=====================  ====================================================================
frame, pts             number of the frame in the clip, and its time stamp in ticks
t_footage_s            when the frame stands in the footage
t_utc_s, utc           the same instant on UTC, as seconds since 1970 and as a time
instrument, item       which instrument of the faceplate showed the text, and which it is
text, unit             the very text that was drawn, and the unit that it is in
value_si               the value behind it in SI (m/s, revolutions a second, radians), not
                       rounded; empty where the text says that there is none
channel, log           which channel of which log it follows from
t_shown_s              the instant of UTC whose value is shown, the channel's delay taken out
x_px … height_px       the box of the text's ink on the upright picture
font, size_px          the font's file and the size that it was drawn at
=====================  ====================================================================
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType, TracebackType
from typing import TYPE_CHECKING, Any, Self

from overlay.ledger.prints import PrintRow, Prints, print_of, unpack

if TYPE_CHECKING:
    import pandas as pd
    import pyarrow as pa

    from overlay.ledger.prints import Luma
    from overlay.ledger.shown import Shown

SCHEMA = "ledger/1"
LEDGER_END = ".ledger.parquet"
"""How the names of ledgers end: they stand beside their clips."""

META_KEY = b"trialreel"
PRINTS_KEY = b"trialreel.prints"
ROWS_A_GROUP = 2_000
"""Rows are written so many at a time: fewer would make the file larger (4,000 less 6 %, 8,000 less
12 %), and more would hold more memory while a clip is made."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ledger:
    """A ledger as read back: the facts of the clip, and its rows."""

    facts: Mapping[str, Any]
    rows: pd.DataFrame


def _arrow_schema() -> pa.Schema:
    import pyarrow as pa

    words = pa.dictionary(pa.int32(), pa.string())
    return pa.schema(
        [
            ("frame", pa.int32()),
            ("pts", pa.int64()),
            ("t_footage_s", pa.float64()),
            ("t_utc_s", pa.float64()),
            ("utc", pa.timestamp("us", tz="UTC")),
            ("instrument", words),
            ("item", words),
            ("text", words),
            ("unit", words),
            ("value_si", pa.float64()),
            ("channel", words),
            ("log", words),
            ("t_shown_s", pa.float64()),
            ("x_px", pa.int32()),
            ("y_px", pa.int32()),
            ("width_px", pa.int32()),
            ("height_px", pa.int32()),
            ("font", words),
            ("size_px", pa.int32()),
        ]
    )


Source = str | tuple[str, str]
"""An instrument, or one of its items."""


class LedgerWriter:
    """Writes a ledger beside its place and moves it there when it is whole.

    Use it as a context manager: leaving it in peace keeps the ledger, leaving it by an error
    removes what was written. `sources` names for each instrument, or for one item of it, the
    channel that it shows and the log that this comes from.
    """

    def __init__(
        self,
        path: Path,
        facts: Mapping[str, Any],
        sources: Mapping[Source, tuple[str, str]] | None = None,
    ) -> None:
        import pyarrow.parquet as pq

        self.path = path
        self._sources = sources or {}
        self._part = path.with_name(f".{path.name}.{os.getpid()}.part")
        self._facts = {"schema": SCHEMA, **facts}
        self._schema = _arrow_schema()
        self._rows: list[tuple[Any, ...]] = []
        self._prints = PrintRow()
        self._writer = pq.ParquetWriter(self._part, self._schema, compression="zstd")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        try:
            if kind is None:
                self._flush()
                document = json.dumps(self._facts, sort_keys=True)
                self._writer.add_key_value_metadata({META_KEY: document.encode()})
                if self._prints.cells:
                    self._writer.add_key_value_metadata({PRINTS_KEY: self._prints.packed()})
            self._writer.close()
            if kind is None:
                self._part.replace(self.path)
        finally:
            self._part.unlink(missing_ok=True)

    def add_facts(self, facts: Mapping[str, Any]) -> None:
        """Keep more facts of the clip, such as took time to find."""
        self._facts |= facts

    def record(
        self,
        frame: int,
        pts: int,
        t_footage_s: float,
        t_utc_s: float,
        shown: tuple[Shown, ...],
    ) -> None:
        """Keep what one frame of the clip showed."""
        for text in shown:
            self._rows.append(
                (
                    frame,
                    pts,
                    t_footage_s,
                    t_utc_s,
                    round(t_utc_s * 1e6),
                    text.instrument,
                    text.item,
                    text.text,
                    text.unit,
                    text.value,
                    *self._source(text),
                    text.t_shown_s,
                    *text.box_px,
                    text.font,
                    text.size_px,
                )
            )
        if len(self._rows) >= ROWS_A_GROUP:
            self._flush()

    def keep_print(
        self, pts: int, t_footage_s: float, t_utc_s: float, luma: Luma, depth: int
    ) -> None:
        """Keep the print of one frame of the clip as it was drawn; frames come in their order.

        Parameters
        ----------
        luma
            The upright picture's codes of Y; they are not kept.
        depth
            Bits of a code.
        """
        self._prints.add(pts, t_footage_s, t_utc_s, print_of(luma, depth))

    def _source(self, text: Shown) -> tuple[str, str]:
        whole = self._sources.get(text.instrument, ("", ""))
        return self._sources.get((text.instrument, text.item), whole)

    def _flush(self) -> None:
        import pyarrow as pa

        if not self._rows:
            return
        columns = zip(*self._rows, strict=True)
        arrays = [
            pa.array(column, type=field.type)
            for column, field in zip(columns, self._schema, strict=True)
        ]
        self._writer.write_table(pa.Table.from_arrays(arrays, schema=self._schema))
        self._rows.clear()


def read_ledger(path: Path) -> Ledger:
    """A ledger from its file.

    Raises
    ------
    ValueError
        Where the file is no ledger, or one of a version that is not known here.
    """
    import pyarrow.parquet as pq

    table = pq.read_table(path)
    document = (pq.read_metadata(path).metadata or {}).get(META_KEY)
    if document is None:
        raise ValueError(f"{path} is a Parquet file, but no ledger")
    facts = json.loads(document)
    if not isinstance(facts, dict):  # what a file holds, not what somebody passed
        raise ValueError(f"{path} is no ledger: its facts are no table")  # noqa: TRY004
    if facts.get("schema") != SCHEMA:
        raise ValueError(f"{path} is a ledger of version {facts.get('schema')!r}, not {SCHEMA!r}")
    return Ledger(facts=MappingProxyType(facts), rows=table.to_pandas())


def read_prints(path: Path) -> Prints | None:
    """The prints that a ledger keeps of its clip; None of one that keeps none.

    Raises
    ------
    ValueError
        Where they are damaged.
    """
    import pyarrow.parquet as pq

    packed = (pq.read_metadata(path).metadata or {}).get(PRINTS_KEY)
    return None if packed is None else unpack(packed)
