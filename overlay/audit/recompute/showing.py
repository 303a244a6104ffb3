"""What one item of an instrument ought to show: numbers, flags, angles swept, ends of scales."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.expected import Expected, Texts
from overlay.audit.recompute.grid import EDGE_S, either_instants, instants_between, rate_hz
from overlay.audit.recompute.kinds import kind_of
from overlay.audit.recompute.recorded import SAME_S, Floats
from overlay.audit.recompute.rounding import (
    NONE,
    Writing,
    duration_texts,
    unit_shown,
    with_doubt_texts,
    writing,
)
from overlay.audit.recompute.shows import ALONG, SIDES, Shows
from overlay.audit.recompute.units import is_unit, unit

if TYPE_CHECKING:
    from overlay.audit.recompute.results.marks import Figure
    from overlay.audit.recompute.run_shown import MarkShown
    from overlay.audit.recompute.side import LogSide

SWEPT_HZ = 4

VALUE_OFF = 1e-12
"""What two ways to work out one value differ by, as a share of it (measured: 4e-15 at the most over
the demo's launch)."""

Found = tuple[float, float, Texts]
"""The instant whose value is shown, the value in SI, and its texts."""


def values(side: LogSide, place: tuple[str, str], shows: Shows, t: Floats) -> Expected:
    """The numbers of a channel."""
    curve = side.curve(shows.channel, shows.log)
    told = _writing(side, shows.channel, place[1])
    if curve is None:
        return _made(place, shows, told.unit.sign, t, [(one, math.nan, (NONE,)) for one in t])

    def at(either: tuple[float, ...]) -> Found:
        read = [side.reading(shows.channel, one).value for one in either]
        return either[0], read[0], _all(told, read)

    either = either_instants(t, rate_hz(shows.channel), side.marks_of(shows.channel))
    return _made(place, shows, told.unit.sign, t, _each_once(either, at), either)


def held(side: LogSide, place: tuple[str, str], shows: Shows, t: Floats) -> Expected:
    """The greatest value shown since the run began; it has no text."""
    curve, key, start = side.curve(shows.channel, shows.log), shows.channel, side.run.start_s
    found: list[Found] = [(one, math.nan, ()) for one in t.tolist()]
    if curve is not None and t.size and float(t.max()) >= start:
        instants = instants_between(start, float(t.max()), rate_hz(key), side.marks_of(key))
        shown = np.array([side.reading(key, one).value for one in instants.tolist()])
        best = np.maximum.accumulate(np.where(np.isfinite(shown), shown, -np.inf))
        last = np.searchsorted(instants, t + SAME_S, side="right") - 1
        for row in np.flatnonzero((t >= start) & (last >= 0)).tolist():
            if math.isfinite(best[last[row]]):
                when = instants[int(np.searchsorted(best, best[last[row]]))]
                found[row] = float(when), float(best[last[row]]), ()
    return _made(place, shows, _writing(side, key, "value").unit.sign, t, found)


def along(side: LogSide, place: tuple[str, str], t: Floats) -> Expected:
    """How far the run has come, in the unit of its axis."""
    run = side.run
    found: list[Found] = [
        (one, side.along(one) if one >= run.start_s else math.nan, ()) for one in t.tolist()
    ]
    return _made(place, Shows(channel="", log="", unit=run.sign), run.sign, t, found)


def swept(side: LogSide, place: tuple[str, str], shows: Shows, t: Floats) -> Expected:
    """The angle swept since a turn began."""
    run = side.run
    if run.sign != "°":
        return _made(place, shows, "°", t, [(one, math.nan, (NONE,)) for one in t.tolist()])
    degree = unit("°", "angle")
    whole = Writing(unit=degree, worth=Fraction(1), decimal_sign=side.sheet.decimal_sign)

    def at(either: tuple[float, ...]) -> Found:
        angles = [math.radians(side.along(one)) for one in either]
        return either[0], angles[0], _all(whole, angles)

    either = np.clip(either_instants(t, SWEPT_HZ), run.start_s, run.stop_s)
    found = _each_once(either, at)
    for row in np.flatnonzero(t < run.start_s).tolist():
        found[row] = float(t[row]), math.nan, (NONE,)
    return _made(place, shows, "°", t, found, either)


def _each_once(either: Floats, at: Callable[[tuple[float, ...]], Found]) -> list[Found]:
    """What is shown for every row of instants, worked out once for those that are alike."""
    rows, places = np.unique(either, axis=0, return_inverse=True)
    once = [at(tuple(dict.fromkeys(row))) for row in rows.tolist()]
    return [once[place] for place in places.ravel().tolist()]


def flag(side: LogSide, place: tuple[str, str], mark: MarkShown, t: Floats) -> Expected:
    """The number on a flag, from when it drops.

    Raises
    ------
    CannotRecompute
        Where the figure on it could not be worked out by its definition.
    """
    figures = side.figures
    if mark.label in figures.why:
        raise CannotRecompute(figures.why[mark.label])
    again, sign = figures.by_label.get(mark.label), _flag_unit(side, mark)
    texts = flag_texts(mark, again, sign, side.sheet.decimal_sign)
    found: list[Found] = [
        (mark.t_utc_s, mark.value, texts if one >= mark.t_utc_s - EDGE_S else ())
        for one in t.tolist()
    ]
    shows = side.shows.get(place) or Shows(channel=mark.channel, log="", unit=mark.unit)
    return _made(place, shows, _flag_unit(side, mark), t, found)


def _flag_unit(side: LogSide, mark: MarkShown) -> str:
    """The sign of the unit that a flag ought to have, where the sets of units differ in it."""
    if mark.unit == "s" or not is_unit(mark.unit):
        return mark.unit
    quantity = unit(mark.unit).quantity
    of = "short_distance" if quantity == "length" else quantity
    return side.sheet.shown_unit(of) or mark.unit


def flag_texts(mark: MarkShown, again: Figure | None, sign: str, decimal_sign: str) -> Texts:
    """What may stand on a flag: the figure behind it in the digits that its deviation supports,
    where the logs bear that figure out within its deviation; else what the logs have.

    Parameters
    ----------
    sign
        Of the unit that it ought to be in.
    """
    sd = mark.sd
    reach = 0.05 if sd is None else sd
    if again is None:
        return (NONE,)
    value = mark.value if abs(again.value - mark.value) <= reach else again.value
    if sign == "s" or not is_unit(sign):
        of = duration_texts if sign == "s" else with_doubt_texts
        return of(value, math.nan if sd is None else sd, decimal_sign)
    shown = unit(sign)
    if sd is None:
        plain = Writing(unit=shown, worth=Fraction(1, 10), decimal_sign=decimal_sign)
        return plain.texts(value)
    return with_doubt_texts(float(shown.from_si(value)), sd / float(shown.factor), decimal_sign)


def _writing(side: LogSide, key: str, item: str) -> Writing:
    """How a channel is written; two engines side by side with the digits of the coarser."""
    keys = [key]
    if item in SIDES:
        name = key.partition(".")[0]
        keys = [name if n == 0 else f"{name}.{n}" for n in SIDES.values()]
    told = [
        writing(curve.channel, side.sheet) for one in keys if (curve := side.curve(one)) is not None
    ]
    if told:
        return replace(told[0], worth=max(one.worth for one in told))
    shown = unit_shown(kind_of(key).quantity, side.sheet)
    return Writing(unit=shown, worth=Fraction(1), decimal_sign=side.sheet.decimal_sign)


def _all(told: Writing, values_si: list[float]) -> Texts:
    """The texts of some values, each once."""
    factor = float(told.unit.factor)
    texts = (
        text
        for value in values_si
        for text in told.texts(value, VALUE_OFF * abs(value) / factor if value == value else 0.0)  # noqa: PLR0124
    )
    return tuple(dict.fromkeys(texts))


def _made(
    place: tuple[str, str],
    shows: Shows,
    sign: str,
    t: Floats,
    found: list[Found],
    either: Floats | None = None,
) -> Expected:
    values_si = np.array([value for _, value, _ in found], dtype=np.float64)
    shown = values_si
    if place[1] != ALONG and is_unit(sign):
        known = unit(sign)
        shown = (values_si - float(known.zero)) / float(known.factor)
    edge = np.zeros(t.size, dtype=np.bool_)
    return Expected(
        instrument=place[0],
        item=place[1],
        channel=shows.channel,
        log=shows.log,
        unit=sign,
        t_utc_s=t,
        t_shown_s=np.array([instant for instant, _, _ in found], dtype=np.float64),
        value_si=values_si,
        value=shown,
        on_edge=edge if either is None else np.ptp(either, axis=1) > 0,
        texts=tuple(texts for _, _, texts in found),
    )
