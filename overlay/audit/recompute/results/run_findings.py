"""What of a clip's run its definitions do not bear out: its start, its axis and its flags."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.recompute.expected import Finding, clock_text
from overlay.audit.recompute.results.marks import ONSET_SD_S, Figure, Figures
from overlay.audit.recompute.results.turns import turn_again

if TYPE_CHECKING:
    from overlay.audit.recompute.run_shown import MarkShown, RunShown
    from overlay.audit.recompute.side import LogSide

AT_S = 2e-3
"""An instant that follows from a law alone may differ by so much: two ways to a crossing."""

ENTRY_MPS = 0.05
"""The speed at which a turn is entered has no deviation of its own."""

MOST_OFF_DEG = 0.5
"""By how much the angle that a turn counts may differ."""


def run_findings(side: LogSide, figures: Figures) -> Iterator[Finding]:
    """What of a run's start, axis and flags its definitions do not bear out."""
    run = side.run
    yield from _start(run, figures)
    for mark in run.marks:
        found = figures.by_label.get(mark.label)
        if found is not None:
            yield from _flag(run, mark, found)
        elif mark.label not in figures.why:
            told = f"the flag {mark.label!r} says {mark.text}, and by the logs there is none"
            yield _finding(told, mark.text, "none", mark.t_utc_s, mark.channel, mark.label)
    known = {mark.label for mark in run.marks} | set(figures.why)
    for label, found in figures.by_label.items():
        if label not in known:
            text = (
                f"by the logs there is a flag {label!r} with {found.value:.4g}, which the clip "
                "does not have"
            )
            yield _finding(text, "none", f"{found.value:.6g}", found.t_utc_s, "speed", label)
    yield from _axis(side)


def _start(run: RunShown, figures: Figures) -> Iterator[Finding]:
    off = figures.start_s - run.start_s
    if math.isfinite(off) and not abs(off) <= max(figures.start_sd_s, _least_sd(run)):
        told = f"the {run.kind} is said to begin {-off:+.3f} s from where the logs have it"
        yield _finding(told, clock_text(run.start_s), clock_text(figures.start_s), run.start_s)


def _flag(run: RunShown, mark: MarkShown, found: Figure) -> Iterator[Finding]:
    sd = ENTRY_MPS if mark.sd is None else mark.sd
    if not abs(found.value - mark.value) <= sd:
        told = (
            f"the flag {mark.label!r} stands for {mark.value:.4g}, and by its definition the "
            f"logs have {found.value:.4g}, stated to {sd:.2g}"
        )
        values = f"{mark.value:.6g}", f"{found.value:.6g}"
        yield _finding(told, *values, mark.t_utc_s, mark.channel, mark.label)
    late = abs(found.t_utc_s - mark.t_utc_s)
    room = {"turn": ONSET_SD_S, "stop": max(AT_S, sd)}.get(run.kind, AT_S)
    if late > room:
        told = f"the flag {mark.label!r} drops {late:.3f} s from where the logs have it"
        instants = clock_text(mark.t_utc_s), clock_text(found.t_utc_s)
        yield _finding(told, *instants, mark.t_utc_s, mark.channel, mark.label)


def _least_sd(run: RunShown) -> float:
    """A start need not be surer than the times that count from it."""
    return min((mark.sd for mark in run.marks if mark.sd is not None), default=0.0)


def _axis(side: LogSide) -> Iterator[Finding]:
    """The angle that a turn counts, against the rate of turn summed up."""
    run = side.run
    if run.kind != "turn" or run.axis is None:
        return
    turn = turn_again(side.day, run.start_s, run.stop_s, to_port=run.to_port)
    _, t, values = run.axis
    own = np.degrees(np.array([turn.at(one) for one in t]))
    off = np.abs(own - np.array(values))
    worst = int(np.argmax(off))
    if off[worst] > MOST_OFF_DEG:
        yield _finding(
            f"the angle swept is counted {off[worst]:.1f}° off what the rate of turn comes to",
            f"{values[worst]:.2f}",
            f"{own[worst]:.2f}",
            t[worst],
            "turn_rate",
        )


def _finding(
    told: str, found: str, wanted: str, t_s: float, channel: str = "", item: str = ""
) -> Finding:
    return Finding(
        kind="result", told=told, found=found, wanted=wanted, item=item,
        t_utc_s=t_s, t_shown_s=t_s, channel=channel,
    )  # fmt: skip
