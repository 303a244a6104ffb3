"""The ledger of a clip from those of its pieces: the same file that one writer would have made."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.ledger.prints import Prints, pack
from overlay.ledger.table import META_KEY, PRINTS_KEY, ROWS_A_GROUP, read_prints

if TYPE_CHECKING:
    import numpy as np
    import pyarrow as pa
    from numpy.typing import NDArray


def join_ledgers(pieces: Sequence[Path], output: Path) -> None:
    """Write the ledger of a clip from the ledgers of its pieces, in their order.

    Raises
    ------
    ValueError
        Where they are not of one clip: their facts differ, or frames do not follow on each other.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    tables = [pq.read_table(piece) for piece in pieces]
    facts = {(pq.read_metadata(piece).metadata or {}).get(META_KEY) for piece in pieces}
    if len(facts) != 1 or (document := facts.pop()) is None:
        raise ValueError("the ledgers of the pieces are of more than one clip")
    rows = pa.concat_tables(tables, promote_options="none")
    frames = rows.column("frame").to_numpy()
    if (frames[1:] < frames[:-1]).any():
        raise ValueError("the ledgers of the pieces do not follow on each other")
    prints = _joined([found for piece in pieces if (found := read_prints(piece)) is not None])
    part = output.with_name(f".{output.name}.{os.getpid()}.part")
    try:
        with pq.ParquetWriter(part, rows.schema.remove_metadata(), compression="zstd") as writer:
            for start, stop in _groups(frames):
                writer.write_table(_encoded_anew(rows.slice(start, stop - start)))
            writer.add_key_value_metadata({META_KEY: document})
            if prints is not None:
                writer.add_key_value_metadata({PRINTS_KEY: pack(prints)})
        part.replace(output)
    finally:
        part.unlink(missing_ok=True)


def _groups(frames: NDArray[np.int32]) -> list[tuple[int, int]]:
    """Where rows are written together: whole frames, as soon as there are enough of them."""
    import numpy as np

    ends = np.append(np.flatnonzero(np.diff(frames)) + 1, len(frames))
    groups, start = [], 0
    for end in ends.tolist():
        if end - start >= ROWS_A_GROUP:
            groups.append((start, end))
            start = end
    if start < len(frames):
        groups.append((start, len(frames)))
    return groups


def _encoded_anew(rows: pa.Table) -> pa.Table:
    """Rows whose words are numbered in the order in which they come, as a writer numbers them."""
    import pyarrow as pa

    columns = []
    for field in rows.schema:
        column = rows.column(field.name).combine_chunks()
        if pa.types.is_dictionary(field.type):
            column = column.cast(field.type.value_type).dictionary_encode()
        columns.append(column.cast(field.type))
    return pa.Table.from_arrays(columns, schema=rows.schema.remove_metadata())


def _joined(prints: Sequence[Prints]) -> Prints | None:
    import numpy as np

    if not prints:
        return None
    return replace(
        prints[0],
        pts=np.concatenate([one.pts for one in prints]),
        t_footage_s=np.concatenate([one.t_footage_s for one in prints]),
        t_utc_s=np.concatenate([one.t_utc_s for one in prints]),
        cells=np.concatenate([one.cells for one in prints]),
    )
