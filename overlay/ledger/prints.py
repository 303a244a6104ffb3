"""A print of each picture of a render, by which the place of a shot in it is found again.

A print is the picture's luma on a grid of four rows by eight columns, 32 bytes. It is taken of
the finished picture, with whatever was drawn on it. An hour of them is kept in the metadata of
the ledger's own file: as differences from frame to frame, cell by cell, compressed, and written
as base64, since metadata is text.
"""

from __future__ import annotations

import base64
import binascii
import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Luma = NDArray[np.unsignedinteger[Any]]

ROWS, COLUMNS = 4, 8
CELLS = ROWS * COLUMNS

LINES = 192
"""About how many lines of a picture are looked at: more make no print that differs by a code,
and the time goes by lines (measured on demo footage and on noise)."""

_FORMAT = "prints/1"
_LEVEL = 6
_MOST_BYTES = 2**30


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prints:
    """The prints of all frames of a clip, those without an instrument too.

    Parameters
    ----------
    pts : [shape=(n,)]
        Time stamps in ticks, as in the ledger's rows.
    t_footage_s, t_utc_s : [shape=(n,), s]
        The same instants on the footage's clock, to the nanosecond, and on UTC, to the
        microsecond.
    cells : [shape=(n, 32), uint8]
        The prints, row by row of the grid.
    """

    pts: NDArray[np.int64]
    t_footage_s: NDArray[np.float64]
    t_utc_s: NDArray[np.float64]
    cells: NDArray[np.uint8]

    def __post_init__(self) -> None:
        for values in (self.pts, self.t_footage_s, self.t_utc_s, self.cells):
            values.setflags(write=False)

    def __len__(self) -> int:
        return len(self.cells)


@dataclass(slots=True)
class PrintRow:
    """Prints as they come in, frame by frame."""

    pts: list[int] = field(default_factory=list)
    t_footage_s: list[float] = field(default_factory=list)
    t_utc_s: list[float] = field(default_factory=list)
    cells: list[bytes] = field(default_factory=list)

    def add(self, pts: int, t_footage_s: float, t_utc_s: float, cells: NDArray[np.uint8]) -> None:
        """Take the print of the next frame."""
        self.pts.append(pts)
        self.t_footage_s.append(t_footage_s)
        self.t_utc_s.append(t_utc_s)
        self.cells.append(cells.tobytes())

    def packed(self) -> bytes:
        """All of them, as the ledger's metadata holds them."""
        import numpy as np

        cells = np.frombuffer(b"".join(self.cells), np.uint8).reshape(-1, CELLS)
        return pack(
            Prints(
                pts=np.array(self.pts, np.int64),
                t_footage_s=np.array(self.t_footage_s, np.float64),
                t_utc_s=np.array(self.t_utc_s, np.float64),
                cells=cells,
            )
        )


def print_of(luma: Luma, depth: int = 8) -> NDArray[np.uint8]:
    """The print of one picture.

    Parameters
    ----------
    luma : [shape=(height, width)]
        The upright picture's codes of Y; at least 4 by 8 of them. It need not be contiguous.
    depth
        Bits of a code.

    Returns
    -------
    [shape=(32,), uint8]
        For row r and column c of the grid, over every pixel of the cell on one line in s::

            P(r, c) = floor(mean Y(y, x) / 2^(depth - 8) + 1/2)
            floor(r H / 4) <= y < floor((r + 1) H / 4)
            floor(c W / 8) <= x < floor((c + 1) W / 8)

        Lines are rows, of a picture that is higher than wide columns, for such a picture lies on
        its side in memory. In each band of cells they begin at its edge; s is the whole part of
        H / 192 (or W / 192), at least 1.

    Raises
    ------
    ValueError
        Where the picture is smaller than its print.
    """
    import numpy as np

    height, width = luma.shape
    if height < ROWS or width < COLUMNS:
        raise ValueError(f"a picture of {width}x{height} is too small for a print")
    means = _means(luma.T, COLUMNS, ROWS).T if height > width else _means(luma, ROWS, COLUMNS)
    return np.floor(means / 2.0 ** (depth - 8) + 0.5).astype(np.uint8).reshape(-1)


def _means(luma: Luma, bands: int, across: int) -> NDArray[np.float64]:
    """Means of cells [shape=(bands, across)] over some lines of each band."""
    import cv2
    import numpy as np

    height, width = luma.shape
    step = max(1, height // LINES)
    starts = [width * n // across for n in range(across)]
    sizes = np.diff([*starts, width])
    means = np.empty((bands, across))
    for band in range(bands):
        lines = luma[height * band // bands : height * (band + 1) // bands : step]
        # Exact: a column has 96 lines at most, of 16 bits, and 32-bit floats count to 2^24.
        columns = cv2.reduce(lines, 0, cv2.REDUCE_SUM, dtype=cv2.CV_32F).reshape(-1)
        sums = np.add.reduceat(columns.astype(np.float64), starts)
        means[band] = sums / (sizes * len(lines))
    return means


def pack(prints: Prints) -> bytes:
    """Prints as text."""
    import numpy as np
    import pyarrow as pa

    columns = (
        prints.pts,
        np.rint(prints.t_footage_s * 1e9).astype(np.int64),
        np.rint(prints.t_utc_s * 1e6).astype(np.int64),
    )
    first = np.zeros((1, CELLS), np.uint8)
    turned = np.ascontiguousarray(np.diff(prints.cells, axis=0, prepend=first).T)
    raw = b"".join([*(_twice_differed(column).tobytes() for column in columns), turned.tobytes()])
    head = json.dumps({"format": _FORMAT, "frames": len(prints), "bytes": len(raw)}).encode()
    squeezed = pa.Codec("zstd", compression_level=_LEVEL).compress(raw, asbytes=True)
    return head + b"\n" + base64.b64encode(squeezed)


def unpack(packed: bytes) -> Prints:
    """Prints from their text.

    Raises
    ------
    ValueError
        Where it is no such text, or is damaged.
    """
    import numpy as np
    import pyarrow as pa

    try:
        line, _, body = packed.partition(b"\n")
        head = json.loads(line)
        frames, size = int(head["frames"]), int(head["bytes"])
        if head["format"] != _FORMAT or not 0 <= size <= _MOST_BYTES:
            raise ValueError("its prints are of another version")
        if size != frames * (3 * 8 + CELLS):
            raise ValueError("its prints are not whole")
        squeezed = base64.b64decode(body, validate=True)
        raw = pa.Codec("zstd").decompress(squeezed, decompressed_size=size, asbytes=True)
        columns = np.frombuffer(raw[: frames * 24], np.int64).reshape(3, frames)
        pts, t_footage, t_utc = (np.cumsum(np.cumsum(row)) for row in columns)
        turned = np.frombuffer(raw[frames * 24 :], np.uint8).reshape(CELLS, frames)
    except UNREADABLE as error:
        raise ValueError(f"its prints cannot be read ({error})") from error
    cells = np.ascontiguousarray(np.cumsum(turned, axis=1, dtype=np.uint8).T)
    return Prints(pts=pts, t_footage_s=t_footage / 1e9, t_utc_s=t_utc / 1e6, cells=cells)


UNREADABLE = (
    binascii.Error,
    json.JSONDecodeError,
    UnicodeDecodeError,
    KeyError,
    TypeError,
    AttributeError,
    OSError,
    OverflowError,
)
"""What damaged text comes to, in the hands of those who decode it."""


def _twice_differed(values: Sequence[int] | NDArray[np.int64]) -> NDArray[np.int64]:
    """Zeros, nearly all of them, of what comes evenly."""
    import numpy as np

    zero = np.zeros(2, np.int64)
    padded = np.concatenate([zero, np.asarray(values, np.int64)])
    twice: NDArray[np.int64] = padded[2:] - 2 * padded[1:-1] + padded[:-2]
    return twice
