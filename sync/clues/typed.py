"""The typed tie mark: a person says which frame was on the screen at which instant.

How it can mislead: people misread clocks by whole minutes and hours, and nothing in a typed
mark shows it. The person is given a strip of the frames around to check.
"""

from __future__ import annotations

import math
import re

from sync.clock import UTC, utc_text
from sync.clue import Clue

_CLOCK = re.compile(r"\d{1,2}:\d{2}(?::(\d{2})(?:[.,](\d+))?)?")


def typed_clue(
    *,
    from_clock: str,
    t_from_s: float,
    frame_s: float,
    to_clock: str,
    t_to_s: float,
    step_s: float,
) -> Clue:
    """A clue from a frame and a time that somebody wrote down.

    ::

        sd = sqrt(frame² / 12 + step² / 12)

    Parameters
    ----------
    from_clock, t_from_s
        The footage's clock, and the frame's time stamp on it.
    frame_s
        How long the frame stands on the screen.
    to_clock, t_to_s
        The clock of the time, and the time.
    step_s
        What the last digit that was written is worth: 1 for whole seconds.
    """
    when = utc_text(t_to_s) if to_clock == UTC else f"{t_to_s:.3f} s on {to_clock}"
    return Clue(
        kind="typed",
        from_clock=from_clock,
        to_clock=to_clock,
        offset_s=t_to_s - t_from_s,
        sd_s=max(math.hypot(frame_s, step_s) / math.sqrt(12.0), 1e-6),
        typed=True,
        text=f"footage at {t_from_s:.3f} s is {when}",
        at_s=t_from_s,
    )


def step_of(text: str) -> float:
    """What the last digit of a written time is worth, in seconds.

    Examples
    --------
    >>> step_of("2026-06-11T09:30:05.25Z")
    0.01
    >>> step_of("09:30")
    60.0
    """
    match = _CLOCK.search(text)
    seconds, decimals = match.groups() if match else ("", "")
    if decimals:
        return float(10.0 ** -len(decimals))
    return 1.0 if seconds or match is None else 60.0
