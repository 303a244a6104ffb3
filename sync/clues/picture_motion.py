"""Picture motion: how the picture turns, held against the turning that a log felt.

A camera that is fixed to the boat turns with it. When the bow comes up the horizon sinks; when
the boat heels the horizon tilts; when she turns the shore slides by. Where the camera looks is
not known, and need not be: the signs and sizes of what the log's rates do to the picture are
fitted, and must then be those of one camera,

::

    across = -f yaw,   down = f (cos c pitch - sin c roll),   about = -(sin c pitch + cos c roll)

with f the lens and c the bearing to which it looks, 0 over the bow.

How it can mislead: waves come again and again, so one offset fits nearly as well as one that
is a wave away; a stabilised or levelled picture has no motion, and a camera in another boat or
in a hand has its own. So what is explained must be far beyond chance, no other offset may do
nearly as well, and a picture that hardly turns says nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from sync.channel import Channel
from sync.clock import Span
from sync.clue import Clue, Doubt, Finding, delay_doubt
from sync.clues.picture.fit import Fit, fits, tried
from sync.clues.picture.shutter import shown_after_s, shutter_doubt
from sync.clues.picture.signals import Seen, half_s, logged_in, seen_in
from sync.clues.picture.turning import Turning

TURNS = ("turn_rate", "pitch", "roll")

LEAST_LENGTH_S = 8.0
"""Footage shorter than this has too few waves (own choice)."""

MOST_PERIOD_S = 0.6
"""A channel sampled less often than this misses the waves (own choice)."""

STILL_RADPS = 0.004
"""A picture that turns less than this, a quarter of a degree a second, hardly turns."""

LEAST_GAIN = 30.0
"""Gain beyond what the best of all offsets reaches by chance, 2 ln(offsets tried) (own choice,
held in tests/bench/accuracy_sync.py)."""

LEAST_R2 = 0.45
"""Share of the picture's best explained motion that must be explained."""

LEAST_HELD = 0.6
"""Share of the footage that the log must hold for a tie."""

MOST_OF_BEST = 0.6
"""Share of the best gain from which on another offset is nearly as good."""

MOST_TWIST = math.radians(40)
"""How far apart two readings of where the camera looks may be."""

LENS = (0.15, 3.0)
ABOUT = (0.2, 1.6)
"""What a radian may do to the picture, in shares of its width and in radians: lenses from 130
degrees to a narrow one, and less where blocks lag behind."""

MOST_SD_FRAMES = 1.0
"""A shift less sure than this many frames is none."""

FAR_DOWN = 0.4
"""How far down the picture the rows lie that tell its turning: the far scene, above the water."""

FRAME_SD_SHARE = 0.25
"""What is not known of which part of a frame's time its picture shows, beside what all clues of
one shutter share."""

PERIOD_SHARE = 0.03
"""Deviation that stays of a log's sample period: the jitter of its stamps."""


def picture_motion_clues(
    *, clock: str, turning: Turning, channels: Sequence[Channel], windows: Sequence[Span] = ()
) -> Finding:
    """A clue on how the footage lies to the clock of a log that felt her turn.

    Parameters
    ----------
    clock
        Of the footage.
    turning
        What `turning_of` measured in its picture.
    channels
        Of one log, on its own clock, with what is known of their delays. `turn_rate` (or
        `heading` in its place), `pitch` and `roll` are used; others are passed over.
    windows
        Where the offset, log less footage, may lie; anywhere where there is none.
    """
    name = clock.partition(":")[2] or clock
    mine = turning_channels(channels)
    if not mine:
        return _none(
            f"{name}: the log has no rate of turn, pitch or roll, sampled every {MOST_PERIOD_S} s "
            "or more often, to hold its picture against"
        )
    if turning.t_s.size < 2 or float(np.ptp(turning.t_s)) < LEAST_LENGTH_S:
        return _none(
            f"{name}: {LEAST_LENGTH_S:.0f} s of picture or more are needed to tell its motion"
        )
    half = half_s(mine)
    seen = seen_in(turning, half)
    if seen is None or (still := _still(seen)) is not None:
        return _none(f"{name}: {'its picture is too short' if seen is None else still}")
    logged = logged_in(mine, half)
    found = fits(seen, logged, windows)
    frame_s = turning.frame_s
    if (why := _doubtful(found, tried(seen, logged, windows), frame_s)) is not None:
        return _none(f"{name}: {why}")
    best = next(fit for fit in found if fit.held >= LEAST_HELD)
    return Finding(clues=(_clue(clock, best, mine, frame_s),))


def turning_channels(channels: Sequence[Channel]) -> list[Channel]:
    """The channels of a log that tell how the boat turns, often enough to see waves, one a name;
    heading for want of a rate."""
    by: dict[str, Channel] = {}
    for channel in channels:
        if not channel.period_s <= MOST_PERIOD_S:
            continue
        if np.count_nonzero(np.isfinite(channel.values)) > 10 and np.ptp(
            channel.values[np.isfinite(channel.values)]
        ):
            by.setdefault(channel.name, channel)
    names = list(TURNS)
    if "turn_rate" not in by:
        names[0] = "heading"
    return [by[name] for name in names if name in by]


def _still(seen: Seen) -> str | None:
    """Why the picture's motion tells nothing, if it hardly turns."""
    worth = np.maximum(np.sum(seen.worth, axis=0), 1e-9)
    mean = np.sum(seen.worth * seen.rates, axis=0) / worth
    spread = np.sqrt(np.sum(seen.worth * (seen.rates - mean) ** 2, axis=0) / worth)
    if float(np.max(spread)) >= STILL_RADPS:
        return None
    return (
        "its picture hardly turns, so it is stabilised or levelled, or the sea was calm; "
        "another clue is needed"
    )


def _doubtful(found: list[Fit], offsets: float, frame_s: float) -> str | None:
    """Why the best offset is not to be trusted, if it is not."""
    best = next((fit for fit in found if fit.held >= LEAST_HELD), None)
    if best is None:
        return "the log holds too little of the time at which it may have been filmed"
    r2 = max(best.r2.values())
    if r2 < LEAST_R2 or best.gain < 2 * math.log(offsets) + LEAST_GAIN:
        return (
            f"how its picture turns is not how the boat did ({r2:.0%} explained at the best of all "
            "offsets, which chance could bring about); the camera may be stabilised, in a hand, "
            "or on another boat"
        )
    rivals = [fit for fit in found if fit is not best and _as_good(fit, best)]
    if rivals:
        hole = "" if rivals[0].held > LEAST_HELD else ", where the log has a hole,"
        return (
            f"its picture's motion fits offsets of {best.shift_s:.2f} s and "
            f"{rivals[0].shift_s:.2f} s{hole} nearly as well as each other; a longer recording, "
            "or one with a launch or a turn in it, would settle it"
        )
    if (why := _no_camera(best)) is not None:
        return f"no camera that is fixed to the boat sees what would fit best: {why}"
    if best.sd_s > MOST_SD_FRAMES * frame_s:
        return f"its picture's motion is only sure to {best.sd_s:.2f} s"
    return None


def _as_good(other: Fit, best: Fit) -> bool:
    """Whether another offset is nearly as good, by what the log holds of the footage there, or
    by what it would come to if the log held all."""
    return (
        other.gain > MOST_OF_BEST * best.gain or other.whole_gain > MOST_OF_BEST * best.whole_gain
    )


def _no_camera(fit: Fit) -> str | None:
    """Why no camera turns the picture as the factors say, if none does."""
    if fit.r2.get("across", 0.0) > LEAST_R2:
        lens = -fit.factors["across"]["turn_rate"]
        if not LENS[0] < lens < LENS[1]:
            return "a turn would move it the wrong way, or too far"
    bearings = []
    for way, (low, high) in (("down", LENS), ("about", ABOUT)):
        if fit.r2.get(way, 0.0) < LEAST_R2:
            continue
        pitch, roll = (fit.factors[way].get(name, 0.0) for name in ("pitch", "roll"))
        if not low < math.hypot(pitch, roll) < high:
            return "it would move too far, or too little"
        if len(fit.factors[way]) == 2:
            turned = math.atan2(-roll, pitch) if way == "down" else math.atan2(-pitch, -roll)
            bearings.append(turned)
    if len(bearings) == 2:
        apart = (bearings[0] - bearings[1] + math.pi) % (2 * math.pi) - math.pi
        if abs(apart) > MOST_TWIST:
            return "it would look two ways at once"
    return None


def _clue(clock: str, fit: Fit, channels: list[Channel], frame_s: float) -> Clue:
    leading = max(fit.told_by, key=lambda name: fit.told_by[name])
    channel = next((c for c in channels if c.name == leading), channels[0])
    shutter = shutter_doubt(clock, frame_s)
    doubts: tuple[Doubt, ...] = (shutter, *delay_doubt(channel, 1.0))
    own = math.hypot(
        fit.sd_s, FRAME_SD_SHARE * frame_s, PERIOD_SHARE * channel.period_s, shutter.sd_s
    )
    told = ", ".join(f"{n} {share:.0%}" for n, share in fit.r2.items() if share >= LEAST_R2)
    return Clue(
        kind="picture_motion",
        from_clock=clock,
        to_clock=channel.clock,
        offset_s=fit.shift_s - shown_after_s(frame_s, FAR_DOWN),
        sd_s=math.hypot(own, channel.delay_sd_s),
        at_s=fit.middle_s,
        doubts=doubts,
        text=(
            f"the picture turns as the boat did: {told} explained; ± {own:.3f} s from the picture "
            f"and ± {channel.delay_sd_s:.3f} s from the channel's delay"
        ),
    )


def _none(remark: str) -> Finding:
    return Finding(remarks=(remark,))
