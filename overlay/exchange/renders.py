"""The clips and transparent renders of a trial, found by the ledgers that stand beside them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from overlay.ledger import LEDGER_END, Ledger, read_ledger
from sync.timecode import DAY_S

CLIP_ENDS = (".mp4", ".mov", ".mkv", ".webm")
TRANSPARENT_ENDS = (".mov", ".webm")
_NUMBERED = re.compile(r"(.*?)(\d+)\.png")

NEEDED = ("instrument", "item", "text", "unit", "channel")
"""Columns of a ledger that are read here, all of them text."""

MOST_HZ = 1000
_RATE = re.compile(r"\d{1,7}(/\d{1,7})?")
"""No powers of ten: a `Fraction` of '1e2000000' is a number of two million digits."""

_ODD = (OSError, ValueError, TypeError, LookupError, ArithmeticError, NotImplementedError)
"""What reading a Parquet file, and facts that anybody may have written, can raise: pyarrow's errors
are of these kinds. An odd ledger is passed over and named, and the others are laid all the same."""

_TOLD_LETTERS = 160
LATEST_UTC_S = 4_102_444_800
"""The year 2100; what a ledger says beyond these is not of this program."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    """A row of numbered pictures: `prefix`, then the number in so many digits, then `.png`."""

    prefix: str
    first: int
    digits: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rendered:
    """A burned clip with its ledger."""

    stem: str
    path: Path
    ledger: Ledger


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TransparentRender:
    """The instruments alone, on log time.

    Parameters
    ----------
    path
        The film, or the folder of the pictures.
    pictures
        How these are numbered; None for a film.
    run
        Which run it shows.
    start_utc_s
        When its first frame stands in UTC.
    rate_hz, frames
        Its frames a second, exactly, and how many there are.
    timecode
        Of its first frame.
    alpha
        `straight` or `premultiplied`.
    """

    stem: str
    path: Path
    pictures: Pictures | None
    run: str
    start_utc_s: float
    rate_hz: Fraction
    frames: int
    timecode: str
    alpha: str
    ledger: Ledger


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """What lies in a trial's folders, and what was passed over and why."""

    clips: tuple[Rendered, ...]
    transparent: tuple[TransparentRender, ...]
    passed_over: tuple[str, ...]


def find_renders(ledgers: Iterable[Path]) -> Found:
    """The renders that some ledgers belong to, in the order of their names."""
    clips: list[Rendered] = []
    transparent: list[TransparentRender] = []
    passed_over: list[str] = []
    for path in sorted(set(ledgers)):
        try:
            ledger = _whole(path)
            facts = ledger.facts.get("transparent")
            if facts is None:
                clips.append(_clip(path, ledger))
            else:
                transparent.append(_transparent(path, ledger, facts))
        except _ODD as error:
            passed_over.append(f"{path.name} is passed over: {_why(error, path)}")
    return Found(clips=tuple(clips), transparent=tuple(transparent), passed_over=tuple(passed_over))


def _why(error: Exception, path: Path) -> str:
    """Why a ledger cannot be used, in half a line."""
    if isinstance(error, KeyError):
        return f"it does not say {error.args[0]!r}"
    told = str(error).replace(str(path), "it").partition("\n")[0]
    return told if len(told) <= _TOLD_LETTERS else f"{told[:_TOLD_LETTERS]}…"


def _whole(path: Path) -> Ledger:
    """A ledger that has all that is read here.

    Raises
    ------
    ValueError
        Where it has not.
    """
    from pandas.api.types import is_integer_dtype

    try:
        ledger = read_ledger(path)
    except (AttributeError, RecursionError) as error:
        raise ValueError("its facts are no table") from error
    rows = ledger.rows
    gone = [name for name in ("frame", *NEEDED) if name not in rows.columns]
    if gone:
        raise ValueError(f"it has no column {gone[0]!r}")
    if not is_integer_dtype(rows["frame"]):
        raise ValueError("its frames are no whole numbers")
    for name in NEEDED:
        if not all(isinstance(one, str) for one in rows[name].unique()):
            raise ValueError(f"its column {name!r} is not all text")
    return ledger


def stem_of(ledger: Path) -> str:
    """The name that a render and its ledger share."""
    return ledger.name.removesuffix(LEDGER_END)


def _clip(path: Path, ledger: Ledger) -> Rendered:
    stem = stem_of(path)
    for end in CLIP_ENDS:
        film = path.with_name(f"{stem}{end}")
        if film.is_file():
            return Rendered(stem=stem, path=film, ledger=ledger)
    raise ValueError("its clip does not lie beside it")


def _transparent(path: Path, ledger: Ledger, facts: dict[str, Any]) -> TransparentRender:
    if not isinstance(facts, dict):
        raise TypeError("what it says of its transparent render is no table")
    stem, frames = stem_of(path), int(facts["frames"])
    if _RATE.fullmatch(str(facts["rate_hz"])) is None:
        raise ValueError(f"{facts['rate_hz']!r} is no number of frames a second")
    rate_hz, start_utc_s = Fraction(str(facts["rate_hz"])), float(facts["start_utc_s"])
    if not (0 < rate_hz <= MOST_HZ and 0 < frames <= DAY_S * rate_hz):
        raise ValueError(f"it says that it has {frames} frames at {rate_hz} a second")
    if not 0 <= start_utc_s <= LATEST_UTC_S:
        raise ValueError(f"it says that it begins at {start_utc_s} s, in no year of any trial")
    film, pictures = _film_or_pictures(path.with_name(stem), frames)
    return TransparentRender(
        stem=stem,
        path=film,
        pictures=pictures,
        run=str(facts["run"]),
        start_utc_s=start_utc_s,
        rate_hz=rate_hz,
        frames=frames,
        timecode=str(facts["timecode"]),
        alpha=str(facts["alpha"]),
        ledger=ledger,
    )


def _film_or_pictures(base: Path, frames: int) -> tuple[Path, Pictures | None]:
    for end in TRANSPARENT_ENDS:
        film = base.with_name(f"{base.name}{end}")
        if film.is_file():
            return film, None
    if not base.is_dir():
        raise ValueError("its transparent render does not lie beside it")
    found = [match for one in base.iterdir() if (match := _NUMBERED.fullmatch(one.name))]
    numbers = sorted(int(match[2]) for match in found)
    prefixes = {match[1] for match in found}
    if len(prefixes) != 1 or numbers != list(range(numbers[0], numbers[0] + frames)):
        raise ValueError(
            f"the folder {base.name!r} does not hold its {frames} pictures, numbered in a row"
        )
    digits = min(len(match[2]) for match in found)
    return base, Pictures(prefix=prefixes.pop(), first=numbers[0], digits=digits)
