"""The figures on the flags of a clip's run, by their printed definitions."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.results.launches import launch_near
from overlay.audit.recompute.results.passes import (
    PassAgain,
    both_ways,
    counted_alike,
    pass_over,
    ways_of,
)
from overlay.audit.recompute.results.stops import stop_again
from overlay.audit.recompute.results.turns import diameter, onset, turn_again

if TYPE_CHECKING:
    from overlay.audit.recompute.run_shown import MarkShown
    from overlay.audit.recompute.side import LogSide

START_SD_S = 0.05
ONSET_SD_S = 0.45
"""How far the start of a launch or a stop, and of a turn, may lie from the ledger's: the first has
no stated deviation there (the product's own is 0.014 s and more), the second is printed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A figure by its definition: the value behind it as the flag has it in SI (lengths of the
    boat for a diameter in those), and the instant at which the flag drops; NaN for none."""

    value: float
    t_utc_s: float = math.nan


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What is said of a run, worked out anew: its start, and a figure for each flag; `why` says of
    a flag, or of the start under an empty name, why it was not."""

    start_s: float
    start_sd_s: float
    by_label: Mapping[str, Figure]
    why: Mapping[str, str]


def figures_of_run(side: LogSide) -> Figures:
    """The figures of a clip's run."""
    of: dict[str, Callable[[LogSide], Figures]] = {
        "launch": _launch,
        "step": _step,
        "top speed": _step,
        "turn": _turn,
        "stop": _stop,
        "span": lambda _: _plain({}, {}),
    }
    labels = ["", *(mark.label for mark in side.run.marks)]
    made = of.get(side.run.kind)
    if made is None:
        why = f"the audit knows no run of the kind {side.run.kind!r}"
        return _plain({}, dict.fromkeys(labels, why))
    try:
        return made(side)
    except CannotRecompute as error:
        return _plain({}, dict.fromkeys(labels, error.why))


def _plain(
    by_label: Mapping[str, Figure],
    why: Mapping[str, str],
    start: tuple[float, float] | None = None,
) -> Figures:
    return Figures(
        start_s=math.nan if start is None else start[0],
        start_sd_s=math.nan if start is None else start[1],
        by_label=MappingProxyType(dict(by_label)),
        why=MappingProxyType(dict(why)),
    )


def _launch(side: LogSide) -> Figures:
    found = launch_near(side.day, side.sheet, side.run.start_s)
    sign = side.sheet.decimal_sign
    figures = {
        label.replace(".", sign): Figure(value=t - found.start_s, t_utc_s=t)
        for label, t in found.ladder.items()
        if math.isfinite(t)
    }
    return _plain(figures, {}, (found.start_s, START_SD_S))


def _step(side: LogSide) -> Figures:
    """Passes by the tabs of the run. The mean both ways needs all of them, in the clip or in the
    document of results."""
    spans = {round(stop, 3): [(start, stop)] for start, stop, _ in side.run.tabs}
    figures: dict[str, Figure] = {}
    why: dict[str, str] = {}
    for mark in side.run.marks:
        try:
            if mark.label == "both ways":
                value = _two_way(side, mark)
            else:
                value = _one_way(side, spans.get(round(mark.t_utc_s, 3)))
            figures[mark.label] = Figure(value=value, t_utc_s=mark.t_utc_s)
        except CannotRecompute as error:
            why[mark.label] = error.why
    return _plain(figures, why)


def _one_way(side: LogSide, whole: list[tuple[float, float]] | None) -> float:
    if whole is None:
        raise CannotRecompute("the ledger does not say over what the mean was taken")
    return pass_over(side.day, side.stretches(whole)).speed_mps


def _two_way(side: LogSide, mark: MarkShown) -> float:
    whole = [side.stretches([(start, stop)]) for start, stop, _ in side.run.tabs]
    count = max((_of(text) for _, _, text in side.run.tabs), default=0)
    more = side.passes_with(mark.t_utc_s)
    spans = more or (whole if len(whole) == count else [])
    if not spans:
        raise CannotRecompute("the clip shows some of the passes only, and no results say the rest")
    passes = [pass_over(side.day, one) for one in spans]
    found = both_ways(passes, side.pass_doubts(mark.t_utc_s, len(passes)))
    if found is None:
        raise CannotRecompute("the passes are not both ways")
    return found[0]


def _of(tab: str) -> int:
    """How many passes there are, of `3500 rpm, pass 1 of 2, 045°`."""
    words = tab.replace(",", " ").split()
    return int(words[words.index("of") + 1]) if "of" in words else 0


def mean_of(passes: list[PassAgain], of: Callable[[PassAgain], float]) -> float:
    """The mean of something over passes, both ways counted alike."""
    return counted_alike([of(one) for one in passes], ways_of(passes))


def _turn(side: LogSide) -> Figures:
    run = side.run
    turn = turn_again(side.day, run.start_s, run.stop_s, to_port=run.to_port)
    began = onset(side.day, run.start_s, run.stop_s, to_port=run.to_port)
    figures: dict[str, Figure] = {"entry": Figure(value=turn.entry_mps, t_utc_s=run.start_s)}
    why: dict[str, str] = {}
    for degrees in (90, 180):
        at = turn.when(math.radians(degrees))
        if math.isfinite(at):
            figures[f"{degrees}°"] = Figure(value=at - run.start_s, t_utc_s=at)
    mark = run.mark("diameter")
    if mark is not None:
        try:
            figures["diameter"] = Figure(value=_across(side, mark, turn.when(math.pi)))
        except CannotRecompute as error:
            why["diameter"] = error.why
    return _plain(figures, why, (began, ONSET_SD_S))


def _across(side: LogSide, mark: MarkShown, half_s: float) -> float:
    if math.isnan(half_s):
        raise CannotRecompute("half a turn was not done")
    across = diameter(side.day, half_s, mark.t_utc_s)
    if mark.unit != "lengths":
        return across
    if side.sheet.boat_length_m is None:
        raise CannotRecompute("the sheet states no length of the boat")
    return across / side.sheet.boat_length_m


def _stop(side: LogSide) -> Figures:
    found = stop_again(side.day, side.run.start_s, side.run.stop_s)
    figure = Figure(value=found.time_s, t_utc_s=found.stop_s)
    return _plain({"way off": figure}, {}, (found.start_s, START_SD_S))
