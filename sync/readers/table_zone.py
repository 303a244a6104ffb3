"""Wall-clock times of a table onto UTC, through the nights in which clocks are changed.

When clocks are put back, an hour comes twice. Which of the two is meant is told by the order of
the rows, or by the times just before or behind the hour; where neither tells, the log is
refused. When clocks are put forward an hour is left out, and times in it are those of a logger
that did not follow.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.clock import utc_text
from sync.readers.base import GPS, OWN
from sync.readers.days import zone
from sync.readers.table_dates import Place
from sync.readers.table_headings import Column

if TYPE_CHECKING:
    import datetime as dt

    import pandas as pd
    from numpy.typing import NDArray

NEAR_S = 600.0
"""Rows nearer than this go on from each other: a pause of more could hide the change."""

SECOND_HOUR_S = -300.0
"""A step back by more than this, in the hour that comes twice, is the change of the clocks."""


def seconds(stamps: pd.Series[pd.Timestamp]) -> Floats:
    """Seconds since 1970 of times in UTC or without a zone, NaN for those that are none."""
    missing = stamps.isna().to_numpy()
    micro = stamps.dt.as_unit("us").astype("int64").to_numpy()
    found: Floats = np.where(missing, np.nan, micro / 1e6)
    return found


def on_utc(wall_s: Floats, column: Column, place: Place) -> Floats:
    """UTC of times without an offset, in the zone that heading, sheet or clock imply.

    Parameters
    ----------
    wall_s : [shape=(n,), s]
        Seconds since 1970 as a wall clock shows them.

    Raises
    ------
    LogFormatError
        Where no zone is known, or the zone's clocks were changed and the times do not tell
        what is meant.
    """
    if column.utc or place.settings.clock in (OWN, GPS):
        return wall_s
    if place.settings.time_zone is None:
        raise place.error(
            "the times have no offset from UTC and no time zone is known",
            column.heading,
            "state the time zone of the trial in the trial sheet",
        )
    here = zone(place.settings.time_zone, place.path)
    first, second = _offsets(wall_s, here, 0), _offsets(wall_s, here, 1)
    skipped, twice = second > first, second < first
    if skipped.any():
        shown = utc_text(float(wall_s[np.argmax(skipped)]), 0).rstrip("Z").replace("T", " ")
        raise place.error(
            f"the time {shown} does not exist in {place.settings.time_zone}, where clocks were "
            "put forward over it",
            column.heading,
            "write the times with their offset from UTC, or state clock = 'own' for this log",
        )
    offset = np.where(_later(wall_s, twice, column, place), second, first)
    return np.asarray(wall_s - offset)


def _offsets(wall_s: Floats, here: dt.tzinfo, fold: int) -> Floats:
    """Seconds by which the zone is ahead of UTC, before (0) or behind (1) a change.

    Zones change on whole quarter hours (IANA), so that each of those has one offset.
    """
    import datetime as dt  # the standard library's: here only for values

    quarter = np.floor(wall_s / 900.0)
    known: dict[float, float] = {}
    for one in np.unique(quarter[np.isfinite(quarter)]).tolist():
        try:
            wall = dt.datetime(1970, 1, 1) + dt.timedelta(seconds=one * 900.0)  # noqa: DTZ001
            offset = wall.replace(tzinfo=here, fold=fold).utcoffset()
        except OverflowError:
            offset = None
        known[one] = np.nan if offset is None else offset.total_seconds()
    places = np.array(sorted(known))
    if not places.size:
        return np.full(wall_s.size, np.nan)
    values = np.array([known[one] for one in places.tolist()])
    at = np.clip(np.searchsorted(places, np.nan_to_num(quarter)), 0, places.size - 1)
    return np.where(np.isfinite(wall_s), values[at], np.nan)


def _later(
    wall_s: Floats, twice: NDArray[np.bool_], column: Column, place: Place
) -> NDArray[np.bool_]:
    """Which of the times that come twice are meant the second time."""
    later = np.zeros(wall_s.size, dtype=bool)
    rows = np.flatnonzero(twice)
    if not rows.size:
        return later
    back = np.flatnonzero(np.diff(wall_s[rows]) < SECOND_HOUR_S)
    if back.size == 1:
        later[rows[back[0] + 1 :]] = True
        return later
    given = np.flatnonzero(np.isfinite(wall_s))
    before, behind = given[given < rows[0]], given[given > rows[-1]]
    on = before.size > 0 and 0 <= wall_s[rows[0]] - wall_s[before[-1]] <= NEAR_S
    off = behind.size > 0 and 0 <= wall_s[behind[0]] - wall_s[rows[-1]] <= NEAR_S
    if back.size or on == off:
        shown = utc_text(float(wall_s[rows[0]]), 0).rstrip("Z").replace("T", " ")
        raise place.error(
            f"the time {shown} comes twice in {place.settings.time_zone}, where clocks were put "
            "back, and nothing tells which is meant",
            column.heading,
            "write the times with their offset from UTC",
        )
    later[rows] = off
    return later
