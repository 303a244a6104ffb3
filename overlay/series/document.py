"""`series.toml`: which clips of which trials, in which shapes and units, within which limits."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from overlay.sheet.fields import FileName, Name
from overlay.sheet.quantities import Uncertainty
from overlay.sheet.tested import Part
from overlay.sheet.typed_document import Kind

SCHEMA = "series/1"
FILE_NAME = "series.toml"

Shape = Literal["wide", "upright", "square"]
Units = Literal["us", "nautical", "metric"]
Stretch = Annotated[Uncertainty, Field(gt=0)]

_MEMORY = re.compile(r"\s*(\d+(?:\.\d+)?)\s*([kMGT]i?B)\s*")
_BYTES = {"kB": 1e3, "MB": 1e6, "GB": 1e9, "TB": 1e12,
          "kiB": 2**10, "MiB": 2**20, "GiB": 2**30, "TiB": 2**40}  # fmt: skip
LEAST_MEMORY_BYTES = 50_000_000
"""Less than the bare program takes cannot be meant."""
LEAST_PIECE_S = 0.25
"""At 24 frames a second still three in the half of it, which is the least that a piece has."""


def memory_bytes(value: object) -> int:
    """An amount of memory such as `4 GB`."""
    found = _MEMORY.fullmatch(value) if isinstance(value, str) else None
    if found is None:
        message = f"{value!r} is not an amount of memory; write for example '4 GB'"
        raise ValueError(message)
    size = int(float(found[1]) * _BYTES[found[2]])
    if size < LEAST_MEMORY_BYTES:
        message = f"{value!r} is less than any job takes; write for example '4 GB'"
        raise ValueError(message)
    return size


def piece_s(length_s: float) -> float:
    """The length of a piece, where it is long enough to be one."""
    if length_s < LEAST_PIECE_S:
        message = f"{length_s:g} s is too short for a piece; write at least '{LEAST_PIECE_S} s'"
        raise ValueError(message)
    return length_s


class Matrix(Part):
    """Every clip once for each combination; without shapes or units as the sheet has it."""

    shapes: list[Shape] = Field(default_factory=list)
    units: list[Units] = Field(default_factory=list)


class Limits(Part):
    """What the jobs may take together, and one of them alone."""

    cores: Annotated[int, Field(ge=1, le=1024)] | None = Field(
        None, description="jobs at once; without it as many as the machine has cores"
    )
    memory: Annotated[int, BeforeValidator(memory_bytes)] | None = Field(
        None, description="'4 GB', for all jobs together; without it four fifths of the machine's"
    )
    timeout: Stretch | None = Field(
        None, description="'30 min' for one job; without it ten times what it is estimated at"
    )
    piece: Annotated[Stretch, AfterValidator(piece_s)] = Field(
        300.0, description="a clip that is longer is made in pieces of at most this length"
    )


class SeriesDocument(Part):
    """What a series is: trials, clips, shared settings, a matrix and limits."""

    schema_: Literal["series/1"] = Field(alias="schema")
    name: Name = "series"
    trials: Annotated[list[FileName], Field(min_length=1)]
    clips: Annotated[list[str], Field(min_length=1)] = Field(default_factory=lambda: ["*"])
    audit: bool = True
    encoder: Literal["x264", "x265", "svt-av1", "prores", "hardware"] | None = None
    quality: Literal["draft", "upload", "master"] = "upload"
    handles: Annotated[Uncertainty, Field(le=600)] | None = None
    strip_location: bool = False
    faceplate: str | None = None
    matrix: Matrix = Matrix()
    limits: Limits = Limits()


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """A series that was asked for, and the folder that its paths start from."""

    document: SeriesDocument
    base: Path

    @property
    def folder(self) -> Path:
        """Where everything that the series makes goes."""
        from overlay.sheet.fields import safe_name

        return self.base / f"{safe_name(self.document.name)}.series"


_SERIES = Kind(
    model=SeriesDocument,
    name="series",
    schema=SCHEMA,
    absent="name a series.toml, or a folder of trials",
    folder="name the series.toml in it",
)


def load_series(path: Path) -> Series:
    """Read a `series.toml`.

    Raises
    ------
    SheetError
        Where it cannot be read, or has a key or a value that cannot stand there; with the nearest
        key or value that can.
    """
    return Series(document=_SERIES.read(path), base=path.absolute().parent)


def timeout_s(limits: Limits, seconds: float) -> float:
    """How long a job may take that is estimated at so many seconds."""
    return limits.timeout if limits.timeout is not None else max(1800.0, 10 * math.ceil(seconds))
