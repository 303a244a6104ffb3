"""Container stamps: when a file says that it was made. Hints, and never more.

ISO/IEC 14496-12 has the creation time in UTC, to the second. Cameras differ from it: many
write their own local time and call it UTC, some write when the file was closed in place of
when it was opened, and few clocks are set to better than a minute or two (common practice, no
published source). All readings that fall on the trial's logs become hints; a clap then tells
which of them was right.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from sync.clock import UTC, Span, utc_text
from sync.clue import Clue, Finding

STAMP_SD_S = 40.0
"""Camera clocks within two minutes are three of these (common practice, no published source)."""

EARLIEST_S = 946_684_800.0
"""2000-01-01: a stamp from before is that of a clock that was never set."""

QUARTER_S = 900.0
MOST_QUARTERS = 56
"""Time zones lie on whole quarter hours within 14 hours of UTC."""

FEW = 3
"""Shifts that may fit before a stamp of an unknown zone says nothing any more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """What the container of a recording says: its clock, its creation time as UTC, its length."""

    clock: str
    created_utc_s: float
    length_s: float


def stamp_clues(
    stamp: Stamp,
    *,
    logs: Span | None = None,
    time_zone: str | None = None,
    sd_s: float = STAMP_SD_S,
) -> Finding:
    """Hints from a creation time, the likeliest reading first.

    Parameters
    ----------
    stamp
        The container's stamp and the recording's length.
    logs
        The stretch of UTC that the trial's logs cover, if any log is on UTC.
    time_zone
        The trial's zone by its IANA name: a stamp may be local time.
    sd_s
        One standard deviation of the camera's clock.
    """
    name = stamp.clock.partition(":")[2] or stamp.clock
    if stamp.created_utc_s < EARLIEST_S:
        return Finding(
            remarks=(f"{name}: its stamp {utc_text(stamp.created_utc_s, 0)} is of no use",)
        )
    shifts = [0.0]
    local = _local_shift(stamp.created_utc_s, time_zone)
    if local:
        shifts.append(local)
    if logs is None:
        return Finding(clues=_readings(stamp, [0.0], sd_s))
    fitting = [shift for shift in shifts if _fits(stamp, shift, logs, sd_s)]
    if fitting:
        return Finding(clues=_readings(stamp, fitting, sd_s))
    return _other_zones(stamp, name, logs, sd_s)


def _other_zones(stamp: Stamp, name: str, logs: Span, sd_s: float) -> Finding:
    """What a stamp could be in zones that nobody named: a remark, for a guess is no hint."""
    quarters = sorted(range(-MOST_QUARTERS, MOST_QUARTERS + 1), key=abs)
    fitting = [q * QUARTER_S for q in quarters if _fits(stamp, q * QUARTER_S, logs, sd_s)]
    made = utc_text(stamp.created_utc_s, 0)
    if not fitting:
        return Finding(
            remarks=(
                (
                    f"{name}: its stamp {made} falls on no log in any time zone; it may be footage "
                    "of another day, or its clock was not set"
                ),
            )
        )
    if len(fitting) > FEW:
        return Finding(
            remarks=(
                (
                    f"{name}: its stamp {made} falls on the logs only as the time of another zone, "
                    "and many would fit; state the trial's time zone, or type a tie mark"
                ),
            )
        )
    zones = ", ".join(f"{-shift / 3600:+g} h" for shift in fitting)
    return Finding(
        remarks=(
            (
                f"{name}: its stamp {made} falls on the logs only as local time of UTC {zones}; "
                "if that is the trial's zone, its time_zone in the sheet would settle it"
            ),
        ),
    )


def _local_shift(created_s: float, time_zone: str | None) -> float:
    """What to add to a stamp that is local time, to have UTC; nought for an unknown zone."""
    if time_zone is None:
        return 0.0
    wall = dt.datetime.fromtimestamp(created_s, tz=dt.UTC).replace(tzinfo=ZoneInfo(time_zone))
    offset = wall.utcoffset()
    return 0.0 if offset is None else -offset.total_seconds()


def _fits(stamp: Stamp, shift_s: float, logs: Span, sd_s: float) -> bool:
    """Whether the footage, opened or closed then, would meet the logs."""
    slack = 3.0 * sd_s
    moment = stamp.created_utc_s + shift_s
    return (
        moment - stamp.length_s - slack < logs.stop_s
        and moment + stamp.length_s + slack > logs.start_s
    )


def _readings(stamp: Stamp, shifts: list[float], sd_s: float) -> tuple[Clue, ...]:
    """Two hints for every shift: the stamp as opening time and as closing time."""
    clues = []
    for shift in shifts:
        zone = "" if not shift else f", read as local time of UTC {-shift / 3600:+g} h"
        for length, what in ((0.0, "opening"), (stamp.length_s, "closing")):
            start = stamp.created_utc_s + shift - length
            clues.append(
                Clue(
                    kind="stamps",
                    from_clock=stamp.clock,
                    to_clock=UTC,
                    offset_s=start,
                    sd_s=max(sd_s, 0.5),
                    hint=True,
                    text=f"{what} time {utc_text(stamp.created_utc_s, 0)}{zone}",
                )
            )
    return tuple(clues)
