"""Which stretches of a recording are worth looking at: decoding pictures takes its time.

A lamp is looked for where stamps and the like leave room for its marks. The picture's turning
tells enough in two minutes: those are taken in which the boat, by where the footage is thought to
lie, turned and pitched the most, and the middle of the footage where nothing is known of that.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from overlay.workflow.evidence.senses import Look
from sync.channel import Channel
from sync.clock import Span
from sync.log import Mark

TURNING_S = 120.0
"""So much of the picture's turning is looked at."""

ABOUT_S = 3.0
"""What is looked at either side of where a lamp may be lit: it is dark before, and stays lit."""

_STEP_S = 0.5


def look_at(
    film: Span,
    lamps: Sequence[Mark],
    lamp_windows: Sequence[Span],
    turning: Sequence[Channel],
    turning_windows: Sequence[Span],
) -> Look:
    """What to look at in a film.

    Parameters
    ----------
    film
        All of it, on the footage's clock.
    lamps, turning
        Marks of a lamp, and channels that felt the boat turn, each on one clock.
    lamp_windows, turning_windows
        Where the offset from the footage's clock to theirs may lie; anywhere where there is
        none.
    """
    wanted = []
    if lamps and not lamp_windows:
        wanted.append(film)
    wanted += [
        Span(start_s=mark.t_s - window.stop_s - ABOUT_S, stop_s=mark.t_s - window.start_s + ABOUT_S)
        for mark in lamps
        for window in lamp_windows
    ]
    stretch = _liveliest(film, turning, turning_windows) if turning else None
    if stretch is not None:
        wanted.append(stretch)
    inside = [both for one in wanted if (both := one.overlap(film)) is not None]
    return Look(spans=_joined(inside), turning=stretch)


def _liveliest(film: Span, turning: Sequence[Channel], windows: Sequence[Span]) -> Span:
    """The two minutes in which there is most to see."""
    if film.length_s <= TURNING_S:
        return film
    starts = np.arange(film.start_s, film.stop_s - TURNING_S, _STEP_S * 10)
    best = float(starts[starts.size // 2])
    most = 0.0
    for window in windows:
        offset = (window.start_s + window.stop_s) / 2
        t = np.arange(film.start_s, film.stop_s, _STEP_S)
        sums = np.concatenate([[0.0], np.cumsum(_activity(turning, t + offset))])
        ends = np.searchsorted(t, starts + TURNING_S)
        lively = sums[ends] - sums[np.searchsorted(t, starts)]
        if float(lively.max()) > most:
            most, best = float(lively.max()), float(starts[int(np.argmax(lively))])
    return Span(start_s=best, stop_s=best + TURNING_S)


def _activity(turning: Sequence[Channel], t: np.ndarray) -> np.ndarray:
    """How much the boat turned at each instant, squared and summed over the channels."""
    total = np.zeros(t.size)
    for channel in turning:
        values = channel.at(t)
        if channel.kind.turns:
            values = np.unwrap(np.nan_to_num(values))
        rate = values if channel.name == "turn_rate" else np.gradient(values, _STEP_S)
        total += np.nan_to_num(rate) ** 2
    return total


def _joined(spans: Sequence[Span]) -> tuple[Span, ...]:
    """Stretches in order, those that meet made one."""
    out: list[Span] = []
    for span in sorted(spans, key=lambda one: one.start_s):
        if out and span.start_s <= out[-1].stop_s:
            before = out.pop()
            out.append(Span(start_s=before.start_s, stop_s=max(before.stop_s, span.stop_s)))
        else:
            out.append(span)
    return tuple(out)
