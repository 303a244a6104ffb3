"""Whether files are of one make, so that one recording can have them in a row."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import numpy as np

from sync.errors import FootageError
from sync.media.footage import Footage
from sync.media.frame_times import FrameTimes

CONSTANT_TICKS = 2
"""Steps that differ by no more than this are one step, rounded to ticks."""

SAME_CONSTANT_RATE = 5e-4
"""Constant rates nearer than this are one: 30 and 29.97 a second differ by twice as much."""

SAME_VARYING_RATE = 0.25
"""Usual steps of a varying rate nearer than this may be of one camera in other light."""


def _size(film: Footage) -> str:
    return f"{film.width}×{film.height}"


def _sound(film: Footage) -> str:
    tracks = [f"{t.codec}, {t.rate_hz} Hz, {t.layout}" for t in film.sound]
    return "; ".join(tracks) or "none"


_MAKE: tuple[tuple[str, Callable[[Footage], str]], ...] = (
    ("picture size", _size),
    ("codec", lambda film: film.codec),
    ("pixel format", lambda film: film.pix_fmt),
    ("shape of samples", lambda film: str(film.sample_aspect)),
    ("turn of the picture", lambda film: f"{film.rotation_deg}°"),
    ("scanning", lambda film: "interlaced" if film.interlaced else "progressive"),
    (
        "colour",
        lambda film: (
            f"{film.colour.matrix_name}, {film.colour.primaries_name}, "
            f"{film.colour.transfer_name}, "
            f"{'full' if film.colour.full_range else 'limited'} range"
        ),
    ),
    ("sound", _sound),
)


def difference(one: Footage, other: Footage) -> tuple[str, str, str] | None:
    """The first thing in which two files' headers differ: what, and how it is in each."""
    for what, of in _MAKE:
        if of(one) != of(other):
            return what, of(one), of(other)
    return None


def rate_hz(times: FrameTimes) -> float | None:
    """Frames a second: the mean of a constant rate, the usual one of a varying rate.

    None where there are fewer than two frames.
    """
    if len(times) < 2:
        return None
    if is_constant(times):
        return float((len(times) - 1) / ((int(times.pts[-1] - times.pts[0])) * times.time_base))
    return float(1 / (Fraction(float(np.median(np.diff(times.pts)))) * times.time_base))


def is_constant(times: FrameTimes) -> bool:
    """Whether all frames are shown equally long, but for the rounding to ticks."""
    steps = np.diff(times.pts)
    return bool(len(steps) and np.ptp(steps) <= CONSTANT_TICKS)


def same_rate(one: FrameTimes, other: FrameTimes) -> bool:
    """Whether two files are of one frame rate, as far as their time stamps resolve it."""
    a, b = rate_hz(one), rate_hz(other)
    if a is None or b is None:
        return True
    if not (is_constant(one) and is_constant(other)):
        return abs(a / b - 1) <= SAME_VARYING_RATE
    rounding = sum(2 * t.time_base / (t.span.length_s or 1) for t in (one, other))
    return abs(a / b - 1) <= SAME_CONSTANT_RATE + float(rounding)


def refuse_misfit(one: Footage, other: Footage) -> None:
    """Refuse a file whose header shows that it does not go on from another.

    Raises
    ------
    FootageError
        With what differs.
    """
    found = difference(one, other)
    if found is not None:
        what, theirs, own = found
        raise _misfit(one, other, what, theirs, own)


def refuse_other_rate(
    one: Footage, other: Footage, one_times: FrameTimes, other_times: FrameTimes
) -> None:
    """The same for the frame rate, which takes a look at all time stamps.

    Raises
    ------
    FootageError
        With both rates.
    """
    if not same_rate(one_times, other_times):
        theirs, own = rate_hz(one_times), rate_hz(other_times)
        raise _misfit(one, other, "frame rate", f"{theirs:.5g} a second", f"{own:.5g} a second")


def _misfit(one: Footage, other: Footage, what: str, theirs: str, own: str) -> FootageError:
    return FootageError(
        f"cannot be part of one recording with {one.path.name}: its {what} is {own}, not {theirs}",
        path=other.path,
        advice="list it as a recording of its own",
    )
