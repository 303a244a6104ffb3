"""Options that several commands have, and what may be written for a number."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path
from typing import Annotated, Literal

import typer

Sheet = Annotated[
    Path,
    typer.Option(
        "--trial", "-t", metavar="SHEET", help="The trial sheet, or the folder that it lies in."
    ),
]
AsJson = Annotated[
    bool, typer.Option("--json", help="Print the answer as JSON, for a program to read.")
]
DEFAULT_SHEET = Path("trial.toml")
Units = Literal["us", "nautical", "metric"]
InUnits = Annotated[
    Units | None,
    typer.Option(
        "--units", help="Work everything out for a reader of these units, with their own ladder."
    ),
]
ForReaders = Annotated[
    Units | None,
    typer.Option(
        "--units", help="For readers of these units, with their own ladder; else the sheet's."
    ),
]
Faceplate = Annotated[
    str | None, typer.Option("--faceplate", help="By name, or a file; else the one that suits.")
]


def exact(given: str | Fraction) -> Fraction:
    """A number such as `5`, `0.5`, `30000/1001`, or `29.97`, which is short for that."""
    short = {"23.976": 24, "23.98": 24, "29.97": 30, "59.94": 60, "119.88": 120}
    if given in short:
        return Fraction(short[str(given)] * 1000, 1001)
    if isinstance(given, str) and not re.fullmatch(r"\s*\d{1,9}([./]\d{1,9})?\s*", given):
        raise typer.BadParameter(f"{given!r} is not a number such as 25, 29.97 or 30000/1001")
    try:
        number = Fraction(given)
    except (ValueError, ZeroDivisionError) as error:
        raise typer.BadParameter(f"{given!r} is not a number") from error
    thousandth = Fraction(round(number * 1001 / 1000) * 1000, 1001)
    if thousandth.denominator == 1001 and abs(number - thousandth) < Fraction(1, 10_000):
        return thousandth  # 29.97002997, as others print it
    return number.limit_denominator(100_000)
