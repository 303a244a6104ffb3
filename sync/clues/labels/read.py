"""Labels of timecode at instants of footage, from a container's track or off its sound."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from fractions import Fraction

from sync.clock import Span
from sync.clues.linear_timecode import Code, CodeRun
from sync.timecode import TimecodeRate, frames_of, is_drop_label, label_of, rate_near

MOST_OFF_SPEED = 300e-6
"""How far a linear timecode may run off its rate by the clock of the sound: six times what
two cheap crystals do (common practice, no published source)."""

OFF_PICTURE_SD_S = 20e-6
"""Where in its change of sign a frame of linear timecode begins: a sample."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Labels:
    """A timecode at one instant of a clock.

    Parameters
    ----------
    clock, at_s
        The footage's clock, and when on it the labelled frame begins.
    frame, rate
        Which frame of the day that is, and how it is counted.
    own_sd_s
        One standard deviation of the instant.
    span
        The stretch of footage about it.
    kind
        Key of `CLUES`: "timecode" for a container's, "linear_timecode" for one in the sound.
    date
        The day in its user bits.
    turn_s
        How far from the middle of its code the instant lies; a generator that runs fast
        is wrong there by as much of it.
    """

    clock: str
    at_s: float
    frame: int
    rate: TimecodeRate
    own_sd_s: float
    span: Span
    kind: str = "timecode"
    date: dt.date | None = None
    turn_s: float = 0.0

    @property
    def label(self) -> str:
        """As it is written."""
        return label_of(self.frame, self.rate)


def container_labels(
    clock: str, label: str, rate_hz: Fraction | float, at_s: float, span: Span
) -> Labels:
    """What the timecode track of a container says of its first frame, at `at_s`.

    Raises
    ------
    TimecodeError
        Where the text is no label at that rate of pictures.
    """
    rate = rate_near(rate_hz, drop=is_drop_label(label))
    return Labels(
        clock=clock,
        at_s=at_s,
        frame=frames_of(label, rate),
        rate=rate,
        own_sd_s=float(rate.frame_s) / math.sqrt(12.0),
        span=span,
    )


def code_labels(clock: str, code: Code) -> tuple[tuple[Labels, ...], tuple[str, ...]]:
    """Linear timecode at two instants of each of its runs, and remarks on what is of no use.

    The instants lie as far from the middle as its frames do in the mean, so that the errors of
    a straight line at the one and at the other have nothing to do with each other.
    """
    name = clock.partition(":")[2] or clock
    found: list[Labels] = []
    remarks: list[str] = []
    if code.backwards:
        remarks.append(
            f"{name}: a linear timecode in its sound is played backwards, which ties nothing; the "
            "sound as it was recorded would settle it"
        )
    for run in code.runs:
        if abs(run.speed - 1) > MOST_OFF_SPEED:
            remarks.append(
                f"{name}: the linear timecode from {run.label} on runs at {run.speed:.4f} of "
                f"{run.rate.key} frames a second, so sound and timecode are not of one speed; "
                "the sound as it was recorded would settle it"
            )
        else:
            found += [_of_run(clock, run, sign) for sign in (-1.0, 1.0)]
    return tuple(found), tuple(remarks)


def _of_run(clock: str, run: CodeRun, sign: float) -> Labels:
    """A run's label at one of its two instants."""
    turn = sign * run.frames / math.sqrt(12.0)
    number = round((run.middle_s - run.start_s) / run.frame_s + turn)
    at_s = run.start_s + number * run.frame_s
    return Labels(
        clock=clock,
        at_s=at_s,
        frame=(run.frame + number) % run.rate.frames_in_a_day,
        rate=run.rate,
        own_sd_s=math.hypot(run.sd_s, turn * run.frame_sd_s, OFF_PICTURE_SD_S),
        span=Span(start_s=run.start_s, stop_s=run.stop_s),
        kind="linear_timecode",
        date=run.date,
        turn_s=turn * run.frame_s,
    )
