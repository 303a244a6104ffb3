"""How the boat lies in a launch: bow rise, and when she is on the plane.

Bow rise is how far pitch goes above its level in the rest just before that very launch, so that
the sensor's mounting and the load's shift since the last one drop out. Time to plane has no
published definition; by default she planes when pitch, after its peak, has fallen two thirds of
the way to her running trim at the lowest step at which she planes.

A sensor that feels gravity takes acceleration for pitch: without a gyro 2 m/s² look like
11.5° (atan a/g), and one that is not aided by speed still errs by degrees in a launch. So there
is no bow rise unless the sheet says that the sensor is aided, or how far it errs.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from overlay.analysis.bow import bow_above
from overlay.analysis.ladder import crossing_of
from overlay.analysis.launches import Launch
from overlay.analysis.means import NONE, Mean, mean_of
from overlay.analysis.propeller import froude
from overlay.analysis.smoothing import fit, law_for
from overlay.analysis.start import rest_before
from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span

MOST_PERIOD_S = 0.2
"""Sampled less often than five times a second, pitch misses its peak."""

SMOOTHED_S = 0.3
"""Width of the mean under which the peak is taken: slaps are not the boat's attitude."""

FALLEN_SHARE = 2 / 3

AIDED_ERROR_RAD = math.radians(0.5)
"""What an attitude that is aided by speed may be out in a launch, where nobody says (from
memory: data sheets have 0.3 to 1°); bounds are taken for two deviations."""

SETTLED_S = 25.0
"""So long after the gain in speed has ended she may still come onto the plane."""

WAVES_S = 4.0
"""What either side of the instant tells how much the sea moves pitch (measured on simulated days,
see tests/bench/attitude_rows.py)."""

PRESSED_SD_S = 0.3
"""How far an observer's finger is out (own choice)."""

LATE_MPS = 20 * 0.44704
"""A boat that planes at less than this should be on the plane by 20 mph."""

PlaneChoice = Literal["two_thirds", "froude_2", "speed", "button"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LaunchAttitude:
    """One launch's attitude.

    Parameters
    ----------
    level
        Pitch in the rest before it, the sensor's mounting in it.
    bow_rise
        How far the bow came up, in rad; `peak_s` is when, from the start.
    plane_s
        Time to plane, from the start; `plane_mps` is the speed then.
    late
        Whether that comes after 20 mph in a boat that planes at less.
    above_s, limit_rad
        For how long the bow stood above the angle that the sheet has for it, from the start to
        where the gain in speed ends; NaN where the sheet has none.
    missing
        Why a figure is not there, or none of them.
    """

    launch: str
    level: Mean
    bow_rise: Mean
    peak_s: float
    plane_s: Mean
    plane_mps: float
    late: bool
    above_s: Mean
    limit_rad: float
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Planing:
    """How time to plane is told.

    Parameters
    ----------
    choice
        Of the definition `time_to_plane`.
    trim
        Pitch at the lowest planing step, the sensor's mounting in it, and the speed there.
    speed_mps
        For the choice `speed`.
    mass_kg
        For the choice `froude_2`.
    buttons_s
        For the choice `button`: when an observer pressed one.
    """

    choice: PlaneChoice
    trim: Mean = NONE
    trim_mps: float = math.nan
    speed_mps: float | None = None
    mass_kg: float | None = None
    buttons_s: Sequence[float] = ()


def launch_attitude(
    channels: Mapping[str, Channel],
    launch: Launch,
    error_rad: float | None,
    planing: Planing,
    limit_rad: float | None = None,
) -> LaunchAttitude:
    """Bow rise, time above a bow angle, and time to plane of one launch.

    Parameters
    ----------
    channels
        By key, on UTC, timely.
    error_rad
        How far the sensor of pitch errs under acceleration; None where nobody says.
    limit_rad
        The bow angle above which the time is counted, if it is to be.
    """
    pitch = channels.get("pitch")
    rest = rest_before(channels, launch.start.t_s)
    level = mean_of(pitch, rest)
    made = LaunchAttitude(
        launch=launch.name, level=level, bow_rise=NONE, peak_s=math.nan, plane_s=NONE,
        plane_mps=math.nan, late=False, above_s=NONE, missing=(),
        limit_rad=math.nan if limit_rad is None else limit_rad,
    )  # fmt: skip
    missing = []
    traced = _trace(pitch, launch)
    trace = None if isinstance(traced, str) else traced
    if trace is not None:
        t, smooth = trace
        top = int(np.argmax(np.where(t <= launch.stop_s, smooth, -np.inf)))
        made = replace(made, peak_s=float(t[top]) - launch.start.t_s)
    why = traced if isinstance(traced, str) else _no_angle(error_rad, level)
    if why:
        missing.append(f"bow rise: {why}")
    elif trace is not None and error_rad is not None:
        doubt = math.hypot(level.sd, error_rad / 2)
        made = replace(made, bow_rise=Mean(value=float(smooth[top]) - level.value, sd=doubt))
    if limit_rad is not None:
        if why or launch.broken:
            why = why or "the log of speed breaks off in it"
            missing.append(f"time with the bow above {math.degrees(limit_rad):g}°: {why}")
        elif trace is not None:
            inside = t <= launch.stop_s
            angle = smooth[inside] - level.value
            made = replace(made, above_s=bow_above(t[inside], angle, limit_rad, made.bow_rise.sd))
    when = _on_the_plane(channels, launch, trace, planing)
    if isinstance(when, str):
        return replace(made, missing=(*missing, f"time to plane: {when}"))
    speed = float(fit(channels["speed"], when, law_for(channels["speed"], channels)).values[0])
    reading = _reading_sd(channels, trace, when, planing.choice)
    return replace(
        made,
        plane_s=Mean(value=when - launch.start.t_s, sd=math.hypot(launch.start.sd_s, reading)),
        plane_mps=speed,
        late=speed > LATE_MPS and planing.trim_mps < LATE_MPS,
        missing=tuple(missing),
    )


def _no_angle(error_rad: float | None, level: Mean) -> str:
    """Why pitch is no bow angle, if it is none."""
    if error_rad is None:
        return (
            "the sheet does not say whether the sensor of pitch is aided by speed "
            "(aided = true) or how far it errs under acceleration (error)"
        )
    return "" if level.known else "there is no rest before it to take the level from"


def _reading_sd(
    channels: Mapping[str, Channel],
    trace: tuple[Floats, Floats] | None,
    when_s: float,
    choice: PlaneChoice,
) -> float:
    """How far the instant may be out by what it was read off: waves on pitch, or a finger."""
    if choice == "button":
        return PRESSED_SD_S
    if choice != "two_thirds" or trace is None:
        return channels["speed"].delay_sd_s
    t, smooth = trace
    about = np.abs(t - when_s) <= WAVES_S
    since = t[about] - when_s
    # A cubic follows how she comes down; what it leaves is the sea. The slope is the cubic's too:
    # of pitch itself, a wave that just passes makes the more of it.
    cubic = np.polyfit(since, smooth[about], 3)
    left = smooth[about] - np.polyval(cubic, since)
    slope = max(abs(float(cubic[2])), 1e-3)
    return math.hypot(float(np.std(left)) / slope, channels["pitch"].delay_sd_s)


def _trace(pitch: Channel | None, launch: Launch) -> tuple[Floats, Floats] | str:
    """Pitch in and after a launch, smoothed, or why there is none."""
    if pitch is None:
        return "no pitch is logged"
    if pitch.period_s > MOST_PERIOD_S * 1.01:
        return (
            f"pitch is logged every {pitch.period_s:.1f} s, and its peak needs "
            f"{1 / MOST_PERIOD_S:.0f} values a second"
        )
    span = Span(start_s=launch.start.t_s, stop_s=launch.stop_s + SETTLED_S)
    if pitch.broken_in(launch.span):
        return "pitch has a hole in it"
    t = np.arange(span.start_s, span.stop_s, 0.05)
    values = pitch.at(t)
    known = np.isfinite(values)
    t, values = t[known], values[known]
    # An odd count, so that a mean stands at the instant in its middle.
    width = 2 * round(SMOOTHED_S / 0.05 / 2) + 1
    if t.size < 4 * width:
        return "pitch breaks off in it"
    padded = np.pad(values, (width // 2, width - 1 - width // 2), mode="edge")
    return t, np.convolve(padded, np.full(width, 1 / width), mode="valid")


def _on_the_plane(
    channels: Mapping[str, Channel],
    launch: Launch,
    trace: tuple[Floats, Floats] | None,
    planing: Planing,
) -> float | str:
    """When she was on the plane, or why that cannot be said."""
    if planing.choice == "two_thirds":
        return _fallen(launch, trace, planing.trim)
    if planing.choice == "button":
        later = [t for t in planing.buttons_s if launch.start.t_s < t < launch.stop_s + SETTLED_S]
        return later[0] if later else "nobody pressed the button for it (a mark called plane)"
    wanted = planing.speed_mps
    if planing.choice == "froude_2":
        if planing.mass_kg is None:
            return "the sheet has no mass to work out the Froude number with"
        wanted = 2.0 / froude(1.0, planing.mass_kg)
    if wanted is None:
        return "the sheet has no definitions.plane_speed"
    speed = channels["speed"]
    t = np.arange(launch.start.t_s, launch.stop_s, 0.02)
    law = law_for(speed, channels)
    found = crossing_of(speed, law, t, fit(speed, t, law).values, wanted)
    return "she did not reach the speed for it" if isinstance(found, str) else found


def _fallen(launch: Launch, trace: tuple[Floats, Floats] | None, trim: Mean) -> float | str:
    """When pitch had fallen two thirds of the way from its peak to the running trim."""
    if trace is None:
        return "there is no pitch to tell it by"
    if not trim.known:
        return "no step was run at which she planes, so her running trim is not known"
    t, smooth = trace
    inside = t <= launch.stop_s
    top = int(np.argmax(np.where(inside, smooth, -np.inf)))
    if smooth[top] <= trim.value:
        return "her bow did not come up above her running trim"
    line = smooth[top] - FALLEN_SHARE * (smooth[top] - trim.value)
    under = np.flatnonzero((smooth <= line) & (np.arange(t.size) > top))
    return float(t[under[0]]) if under.size else "she did not come down onto the plane"
