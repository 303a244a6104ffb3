"""A figure of a document of results, and what the logs have of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from overlay.audit.recompute.errors import CannotRecompute

SHARE = 0.02
"""What a figure without a stated deviation may differ by, of itself."""

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultHeld:
    """One figure of the document, and what the logs have of it.

    Parameters
    ----------
    what
        Which figure: `launch 1, 20 mph`.
    said, sd
        As the document has them, in SI; for a figure without a deviation of its own `sd` is what is
        allowed in its stead.
    found
        By the logs; NaN where it could not be worked out.
    why
        Why it was not worked out; empty where it was.
    """

    what: str
    said: float
    sd: float
    found: float
    why: str = ""

    @property
    def agrees(self) -> bool:
        """Whether it lies within its deviation; what was not worked out does not agree."""
        return not self.why and abs(self.found - self.said) <= self.sd


def held(what: str, said: Any, sd: Any, work: Callable[[], float]) -> Iterator[ResultHeld]:
    """One figure; nothing where the document has none."""
    if said is None or not math.isfinite(float(said)):
        return
    reach = float(sd) if sd else SHARE * abs(float(said))
    try:
        found, why = work(), ""
        if math.isnan(found):
            why = "the audit finds no value for it"
    except CannotRecompute as error:
        found, why = math.nan, error.why
    yield ResultHeld(what=what, said=float(said), sd=reach, found=found, why=why)


def mean_held(what: str, mean: Row | None, work: Callable[[], float]) -> Iterator[ResultHeld]:
    """The same for a mean of the document with its deviation; nothing where there is none."""
    if mean is not None:
        yield from held(what, mean.get("value"), mean.get("sd"), work)


def unheld(what: str, mean: Row, why: str) -> ResultHeld:
    """A figure that was not worked out, and why."""
    value = mean.get("value")
    sd = mean.get("sd")
    return ResultHeld(
        what=what,
        said=math.nan if value is None else float(value),
        sd=math.nan if sd is None else float(sd),
        found=math.nan,
        why=why,
    )


def it(value: float) -> float:
    """A value that is there already."""
    return value
