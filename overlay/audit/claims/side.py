"""A trial as claims are held against it: its figures by name, and where they stand in the logs."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from overlay.audit.claims.figure import Figure
from overlay.audit.claims.judged import Place
from overlay.audit.claims.measures import Measure
from overlay.audit.claims.naming import Named, book_of, named, nearest
from overlay.audit.claims.standing import Document, figures_of
from overlay.figures import UNIT_SETS

LinesOf = Callable[[str, str, float, float], tuple[int, int] | None]
"""The first and last line of a channel in a log's file between two instants in UTC seconds, where
somebody still has the log at hand: `(log, channel, start, stop)`."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Side:
    """One trial's results, ready to be asked."""

    trial: str
    units: str
    figures: tuple[Figure, ...]
    book: Mapping[str, Figure]
    logs: Mapping[str, str]
    missing: tuple[str, ...]
    lines_of: LinesOf | None = None

    def named(self, text: str) -> Named:
        """The figure that a claim's quantity names."""
        return named(text, self.book)

    def nearest(self, found: Named) -> tuple[str, ...]:
        """The names nearest to one that there is no figure of."""
        return nearest(found, self.book)

    def places(self, figure: Figure) -> tuple[Place, ...]:
        """Where in the logs a figure stands: each channel that it follows from, span by span."""
        return tuple(
            self._place(figure.run, channel, log, span)
            for name in figure.measure.channels
            for channel, log in self.logs.items()
            if channel.partition(".")[0] == name
            for span in figure.spans
            if all(map(math.isfinite, span))
        )

    def _place(self, run: str, channel: str, log: str, span: tuple[float, float]) -> Place:
        lines = self.lines_of(log, channel, *span) if self.lines_of else None
        first, last = lines or (None, None)
        return Place(
            run=run,
            channel=channel,
            log=log,
            start_utc_s=span[0],
            stop_utc_s=span[1],
            first_line=first,
            last_line=last,
        )

    def why_not(self, figure: Figure) -> str:
        """What the results say about a figure that they lack, or nothing."""
        if figure.remark:
            return figure.remark
        return self.missing_of(figure.measure)

    def missing_of(self, measure: Measure) -> str:
        """What they say about a measure that they lack, or nothing."""
        told = (why for why in self.missing if _speaks_of(why, measure.name))
        return next(told, "")


def _speaks_of(why: str, measure: str) -> bool:
    """Whether a line such as `launch 1: bow rise: no log has pitch` is about a measure."""
    return measure in [part.strip() for part in why.casefold().split(":")[:-1]]


def side_of(document: Document, lines_of: LinesOf | None = None) -> Side:
    """A results document as a side.

    Raises
    ------
    AnalysisError
        Where it is no results document.
    """
    figures = figures_of(document)
    units = str(document.get("units"))
    return Side(
        trial=str(document.get("trial", "")),
        units=units if units in UNIT_SETS else "nautical",
        figures=figures,
        book=book_of(figures),
        logs={one["channel"]: one["log"] for one in _tables(document, "delays")},
        missing=tuple(str(why) for why in document.get("missing", ())),
        lines_of=lines_of,
    )


def _tables(document: Document, key: str) -> Sequence[Mapping[str, str]]:
    return tuple(document.get(key, ()))


def side_called(name: str, sides: Sequence[Side]) -> Side | None:
    """The side of a trial, by its name."""
    wanted = name.strip().casefold()
    return next((one for one in sides if one.trial.strip().casefold() == wanted), None)
