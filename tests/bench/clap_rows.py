"""Claps in sound and as spikes in a log: found to the millisecond, or refused.

Every clap is by other hands, at a distance and in air that are stated as a person would, under
wind with gusts and an engine; hatches, tools and spray bang as well, and some claps are double.
"""

from __future__ import annotations

import math

import numpy as np
from clapped import Hands, as_heard, bangs, gusty, laid
from knocked import knocked
from sounds import RATE
from study import Outcome, Row

from sync.clock import UTC, Span
from sync.clues import Clue, Finding, Scene, clap_clues, find_impulses, spike_marks
from sync.clues.clap import sound_speed
from sync.log import Mark

BOW = "footage:bow"
OFFSET_S = 1_781_168_412.345
MISSING = [Outcome(error=math.nan)]


def pauses(rng: np.random.Generator, count: int) -> list[float]:
    """Claps at uneven pauses of one to three seconds, as the crew was told to make them, from
    the first one on."""
    while True:
        made = rng.uniform(1.0, 3.0, count - 1)
        apart = np.abs(np.subtract.outer(made, made))[np.triu_indices(count - 1, 1)]
        if count < 3 or np.min(apart) > 0.4:
            return [0.0, *np.cumsum(made).tolist()]


def doubled(rng: np.random.Generator, times: list[float]) -> list[float]:
    """The same, and in one of ten another by the other hand within a fifth of a second."""
    if rng.uniform() < 0.9:
        return times
    return sorted([*times, times[int(rng.integers(len(times)))] + float(rng.uniform(0.06, 0.2))])


def stamp(offset_s: float, sd_s: float = 40.0) -> Clue:
    """What a camera's clock says."""
    return Clue(
        kind="stamps", from_clock=BOW, to_clock=UTC, offset_s=offset_s, sd_s=sd_s, hint=True
    )


def by_clap(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Claps as loud as wind and engine together, stamped to 1 ms: one that a person shows, one to
    which an engine's note leads, or three to five at uneven pauses."""
    stated_m = float(rng.uniform(0.5, 12))
    sd_m = float(rng.choice([0.1, 0.3]))
    air_k = float(rng.uniform(278, 303))
    away_s = (stated_m + float(rng.normal(0, sd_m))) / sound_speed(air_k + float(rng.normal(0, 2)))
    way = str(rng.choice(["shown", "led", "counted"]))
    count = int(rng.integers(3, 6)) if way == "counted" else 1
    after = pauses(rng, count)
    seconds = 4.0 + after[-1] + 4.0
    first = float(rng.uniform(1, 6))
    times = [first + t for t in after]
    noise = bangs(gusty(seconds, rng), rng, int(rng.poisson(0.08 * seconds)))
    struck_s = [t + away_s for t in doubled(rng, times)]
    heard = find_impulses(as_heard(laid(noise, struck_s, 0.0, Hands.some(rng), rng)), RATE, 0.0)
    step_sd_s = 0.001 / math.sqrt(12)
    marks = [
        Mark(label="clap", clock=UTC, t_s=round(OFFSET_S + t, 3), sd_s=step_sd_s) for t in times
    ]
    scene = Scene(
        clock=BOW, span=Span(start_s=0, stop_s=seconds), distance_m=stated_m, distance_sd_m=sd_m,
        air_temperature_k=air_k, clap_at_s=round(times[0], 1) if way == "shown" else None,
    )  # fmt: skip
    note = Clue(
        kind="engine_note", from_clock=BOW, to_clock=UTC, sd_s=0.02,
        offset_s=OFFSET_S + float(rng.normal(0, 0.02)),
    )  # fmt: skip
    hints = [stamp(OFFSET_S + float(rng.normal(0, 40)))]
    return _judged(clap_clues(scene, heard, marks, hints, [note] if way == "led" else []), OFFSET_S)


def _judged(found: Finding, offset_s: float) -> list[Outcome]:
    assert found.remarks or found.clues, "a refusal says why"
    firm = [clue for clue in found.clues if not clue.hint]
    if not firm:
        return MISSING
    return [Outcome(error=firm[0].offset_s - offset_s, sd=firm[0].sd_s)]


def by_knock(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Knocks beside a sensor that logs 50 accelerations a second in a short sea, heard in the
    footage: one that a person shows, one to which the note leads, or five at uneven pauses."""
    way = str(rng.choice(["shown", "led", "counted"]))
    after = pauses(rng, 5 if way == "counted" else 1)
    first, lead_in = float(rng.uniform(1, 6)), float(rng.uniform(20, 60))
    times = [first + t for t in after]
    seconds = times[-1] + 3.0
    offset_s = float(rng.uniform(100, 5000))
    channel = knocked(rng, [lead_in + t for t in times], lead_in + seconds + 30.0)
    away_m = float(rng.uniform(0.5, 5))
    noise = bangs(gusty(seconds, rng), rng, int(rng.poisson(0.08 * seconds)))
    struck_s = [t + (away_m + rng.normal(0, 0.3)) / sound_speed(288.15) for t in times]
    heard = find_impulses(as_heard(laid(noise, struck_s, 3.0, Hands.some(rng), rng)), RATE, 0.0)
    marks = [
        Mark(label=one.label, clock="log:attitude", t_s=one.t_s - lead_in + offset_s,
             sd_s=one.sd_s)
        for one in spike_marks(channel)
    ]  # fmt: skip
    if not marks:
        return MISSING
    scene = Scene(
        clock=BOW, span=Span(start_s=0, stop_s=seconds), distance_m=away_m, distance_sd_m=0.3,
        clap_at_s=round(times[0], 1) if way == "shown" else None,
    )  # fmt: skip
    hint = Clue(
        kind="stamps", from_clock=BOW, to_clock="log:attitude", hint=True, sd_s=5.0,
        offset_s=offset_s + float(rng.normal(0, 5)),
    )  # fmt: skip
    note = Clue(
        kind="engine_note", from_clock=BOW, to_clock="log:attitude", sd_s=0.02,
        offset_s=offset_s + float(rng.normal(0, 0.02)),
    )  # fmt: skip
    return _judged(
        clap_clues(scene, heard, marks, [hint], [note] if way == "led" else []), offset_s
    )


def habit(rng: np.random.Generator, count: int, scatter: float) -> tuple[list[float], list[float]]:
    """Two days' claps by people who clap much alike: from the first on."""
    way = rng.uniform(0.8, 4.0, count - 1)
    if rng.uniform() < 0.5:
        way[:] = way[:1] if count > 1 else way
    days = [way * (1 + rng.normal(0, scatter, way.size)) for _ in range(2)]
    return [0.0, *np.cumsum(days[0]).tolist()], [0.0, *np.cumsum(days[1]).tolist()]


def by_other_day(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """One to four claps against marks of another day on which as many were made by the same
    people, where the stamp allows it: any clue that is no hint is an error."""
    count = int(rng.integers(1, 5))
    filmed, logged = habit(rng, count, 0.15)
    seconds = filmed[-1] + 8.0
    first, other = float(rng.uniform(1, 6)), float(rng.uniform(1, 6))
    noise = bangs(gusty(seconds, rng), rng, int(rng.poisson(0.08 * seconds)))
    level = float(rng.uniform(0, 12))
    sound = laid(noise, [first + t for t in filmed], level, Hands.some(rng), rng)
    marks = [
        Mark(label="clap", clock=UTC, t_s=round(OFFSET_S + other + t, 3), sd_s=0.0003)
        for t in logged
    ]
    scene = Scene(clock=BOW, span=Span(start_s=0, stop_s=seconds), distance_m=1.5)
    hints = [stamp(OFFSET_S + float(rng.normal(0, 20)))]
    return _refused(clap_clues(scene, find_impulses(as_heard(sound), RATE, 0.0), marks, hints))


def by_look_alike(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """One to five claps against two sets of marks that lie as the claps do, half a minute to
    three minutes apart and both within the stamp's reach."""
    after = pauses(rng, int(rng.integers(1, 6)))
    seconds = after[-1] + 8.0
    first, later = float(rng.uniform(1, 6)), float(rng.uniform(30, 180))
    noise = bangs(gusty(seconds, rng), rng, int(rng.poisson(0.08 * seconds)))
    level = float(rng.uniform(0, 12))
    sound = laid(noise, [first + t for t in after], level, Hands.some(rng), rng)
    marks = [
        Mark(label="clap", clock=UTC, sd_s=0.0003,
             t_s=round(OFFSET_S + first + t + at + float(rng.normal(0, 0.0005)), 3))
        for at in (0.0, later) for t in after
    ]  # fmt: skip
    scene = Scene(clock=BOW, span=Span(start_s=0, stop_s=seconds), distance_m=1.5)
    hints = [stamp(OFFSET_S + float(rng.uniform(0, later)), 60.0)]
    return _refused(clap_clues(scene, find_impulses(as_heard(sound), RATE, 0.0), marks, hints))


def _refused(found: Finding) -> list[Outcome]:
    assert found.remarks or found.clues, "a refusal says why"
    firm = any(not clue.hint for clue in found.clues)
    return [Outcome(error=1.0)] if firm else MISSING


ROWS = (
    Row(name="clap", goal=0.005, unit="ms", scale=1e3, short=6, answers=0.85, run=by_clap),
    Row(name="clap in log", goal=0.015, unit="ms", scale=1e3, short=4, answers=0.8,
        run=by_knock),
    Row(name="clap, other day", goal=0.0, unit="", scale=1, short=4, refuses=True,
        run=by_other_day),
    Row(name="clap, look-alike", goal=0.0, unit="", scale=1, short=4, refuses=True,
        run=by_look_alike),
)  # fmt: skip
