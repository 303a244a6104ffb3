"""The logs' side of the audit: what ought to stand on the picture at any instant."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any, Self

import numpy as np

from overlay.audit.recompute import showing
from overlay.audit.recompute.day import Day, read_day
from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.expected import Expected, LogRow
from overlay.audit.recompute.laws import NOTHING, Curve, Reading, curve_of
from overlay.audit.recompute.levelling import heeled, levelled
from overlay.audit.recompute.logs.tables import decoded
from overlay.audit.recompute.recorded import Floats, Recorded
from overlay.audit.recompute.results.marks import Figures, figures_of_run
from overlay.audit.recompute.results.passes import Spans, spans_of
from overlay.audit.recompute.results.turns import TurnAgain, turn_again
from overlay.audit.recompute.run_shown import RunShown, run_of
from overlay.audit.recompute.sheet import Sheet, read_sheet
from overlay.audit.recompute.shows import ALONG, HELD, SWEPT, Shows, shows_by_facts


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LogSide:
    """What the logs say, by the sheet and by what a ledger says of its clip.

    Parameters
    ----------
    sheet
        In the units that the ledger names.
    facts
        Of the ledger: its units, ties, delays that were estimated, and the run with its marks are
        taken from it, and nothing else.
    shows
        What the items of its instruments show.
    steps
        Of the document of results, if it is there: over which stretches passes were taken.
    """

    sheet: Sheet
    facts: Mapping[str, Any]
    shows: Mapping[tuple[str, str], Shows]
    run: RunShown
    day: Day
    steps: Sequence[Mapping[str, Any]] = ()
    _curves: dict[str, Curve | None] = field(default_factory=dict, repr=False)
    _read: dict[tuple[str, float], Reading] = field(default_factory=dict, repr=False)
    _lines: dict[Path, list[str]] = field(default_factory=dict, repr=False)
    _figures: list[Figures] = field(default_factory=list, repr=False)
    _turn: list[TurnAgain] = field(default_factory=list, repr=False)

    @classmethod
    def open(
        cls,
        sheet_path: Path,
        facts: Mapping[str, Any],
        shows: Mapping[tuple[str, str], Shows] | None = None,
        results: Mapping[str, Any] | None = None,
    ) -> Self:
        """Read the sheet and all its logs.

        Parameters
        ----------
        shows
            What the items of the instruments show, by the rows of the ledger; else its facts say.
        results
            The document of results, for the means both ways.

        Raises
        ------
        CannotRecompute
            Where the sheet is not understood, or the facts have no run. A log that cannot be read
            is no error here: what it bears on is told when it is asked for.
        """
        sheet = read_sheet(Path(sheet_path)).for_readers_of(facts.get("units"))
        run = run_of(facts)
        return cls(
            sheet=sheet,
            facts=facts,
            shows=MappingProxyType({**shows_by_facts(facts), **(shows or {})}),
            run=run,
            day=read_day(sheet, facts),
            steps=() if results is None else tuple(results.get("steps", ())),
        )

    def expected(self, instrument: str, item: str, t_utc_s: Floats) -> Expected:
        """What an item of an instrument ought to show at instants of UTC.

        Items are those of the ledger's rows, and for a pointer also `along`, how far the run has
        come, and `held`, the greatest value shown since the run began. Where nothing is to be seen
        of a flag yet, it has no text.

        Raises
        ------
        CannotRecompute
            Where that cannot be worked out anew, with the reason.
        """
        t = np.atleast_1d(np.asarray(t_utc_s, dtype=np.float64))
        place = (instrument, item)
        if item == ALONG:
            return showing.along(self, place, t)
        mark = self.run.mark(item)
        if mark is not None:
            return showing.flag(self, place, mark, t)
        shows = self.shows.get((instrument, "value") if item == HELD else place)
        if shows is None:
            raise CannotRecompute(f"the ledger does not say what {instrument!r} shows as {item!r}")
        of = {SWEPT: showing.swept, HELD: showing.held}.get(item, showing.values)
        return of(self, place, shows, t)

    def curve(self, key: str, log: str = "") -> Curve | None:
        """A channel under its law, as it is shown: pitch levelled, roll as heel in a turn. None
        where no log has it.

        Raises
        ------
        CannotRecompute
            Where the log that it comes from could not be read, or not understood.
        """
        self.day.channel(key, log)
        if key not in self._curves:
            channel = self.day.channels.get(key)
            shown = None if channel is None else self._as_shown(channel)
            self._curves[key] = None if shown is None else curve_of(shown, self.day.channels)
        return self._curves[key]

    def _as_shown(self, channel: Recorded) -> Recorded | None:
        if channel.name == "pitch":
            return levelled(channel, self.run, self.day, self.facts)
        return heeled(channel, self.run) if channel.name == "roll" else channel

    def reading(self, key: str, t_s: float) -> Reading:
        """A channel under its law at an instant, as it is shown; worked out once."""
        if (key, t_s) not in self._read:
            curve = self.curve(key)
            self._read[key, t_s] = NOTHING if curve is None else curve.at(t_s)
        return self._read[key, t_s]

    def marks_of(self, key: str) -> tuple[float, ...]:
        """The marks that take the place of an instant of a channel's grid: the run's, for speed."""
        if key.partition(".")[0] != "speed":
            return ()
        return tuple(sorted(mark.t_utc_s for mark in self.run.marks))

    @property
    def figures(self) -> Figures:
        """The figures of the run by their definitions, worked out once."""
        if not self._figures:
            self._figures.append(figures_of_run(self))
        return self._figures[0]

    def along(self, t_s: float) -> float:
        """How far the run has come: in a turn by the rate of turn, else by the run's own axis."""
        run = self.run
        if run.kind != "turn" or run.sign != "°":
            return run.along(t_s)
        if not self._turn:
            turn = turn_again(self.day, run.start_s, run.stop_s, to_port=run.to_port)
            self._turn.append(turn)
        return math.degrees(self._turn[0].at(min(t_s, run.stop_s)))

    def stretches(self, whole: Spans) -> Spans:
        """The steady stretches of a pass that is said to last from one instant to another."""
        start, stop = whole[0][0], whole[-1][1]
        for step in self.steps:
            for row in step["passes"]:
                spans = spans_of(row)
                if abs(spans[0][0] - start) < 0.01 and abs(spans[-1][1] - stop) < 0.01:
                    return spans
        return whole

    def _step_ending(self, t_s: float) -> Mapping[str, Any] | None:
        for step in self.steps:
            if any(abs(spans_of(row)[-1][1] - t_s) < 0.01 for row in step["passes"]):
                return step
        return None

    def passes_with(self, t_s: float) -> list[Spans]:
        """The stretches of all passes of the step that has one ending at an instant."""
        step = self._step_ending(t_s)
        return [] if step is None else [spans_of(row) for row in step["passes"]]

    def pass_doubts(self, t_s: float, count: int) -> list[float]:
        """The deviations of those passes' speeds, by which they are weighted; all alike where no
        document says."""
        step = self._step_ending(t_s)
        if step is None:
            return [1.0] * count
        return [float(row["speed"]["sd"]) for row in step["passes"]]

    def rows_around(self, key: str, t_utc_s: float, count: int = 3) -> tuple[LogRow, ...]:
        """The lines of the log about an instant, so many before it and after.

        The instants of the lines are those of their values: the delay of the channel is taken out.
        """
        channel = self.day.channels.get(key)
        if channel is None:
            return ()
        middle = int(np.searchsorted(channel.t_s, t_utc_s))
        rows = range(max(middle - count, 0), min(middle + count, channel.t_s.size))
        return tuple(
            LogRow(
                log=channel.log,
                path=channel.path,
                line=int(channel.lines[row]),
                text=self._line(channel, row),
                t_utc_s=float(channel.t_s[row]),
            )
            for row in rows
        )

    def _line(self, channel: Recorded, row: int) -> str:
        path = channel.path
        if path not in self._lines:
            data = path.read_bytes()
            plain = b"" if data.startswith(b"PAR1") else data
            self._lines[path] = decoded(plain).splitlines()
        lines, line = self._lines[path], int(channel.lines[row])
        if not 0 < line <= len(lines):
            return f"{channel.key} = {channel.printed[row]:g}"
        return lines[line - 1].strip()
