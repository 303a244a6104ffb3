"""The clap: an impulse in the sound held against tie marks in a log.

Sound needs time from the hands to the camera, so its distance is taken off:

::

    offset = t_mark - (t_onset - distance / c),    c = 331.3 √(1 + T / 273.15 K) m/s, T in °C

How it can mislead: other impulses sound like a clap, and the clap may not be in this footage
at all. So the search is limited to what the stamps allow; all marks are matched at once; and
where a second answer is nearly as good as the first there is no clue. A lone mark needs
stamps: without them another day's footage would do as well.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sync.clock import UTC, Span, utc_text
from sync.clues.base import Clue, Finding
from sync.clues.impulses import Impulse
from sync.clues.matching import Hypothesis, Instants, hypotheses
from sync.log import Mark

LEAD_DB = 10.0
"""How much better than the next the best answer must be, or than none where there is no
next; for a lone mark, how much louder its impulse (own choice: the next one could be the clap,
and this the dropped tool)."""

MISSING_DB = 15.0
"""What a mark without an impulse costs where the footage ought to hold one (own choice)."""

MOST_DB = 30.0
"""Louder than this makes an impulse no surer."""

STAMPLESS_MARKS = 3
"""Marks that must match by their spacing alone, where no stamp limits the search: two claps
lie about as far apart on any day."""

WINDOW_SDS = 3.0
"""How many of its standard deviations a stamp may be off."""

SOUND_WORDS = ("clap", "knock", "tap", "bang", "slate", "hit")
"""Labels of marks that can be heard. Where no mark has one of them, all are tried."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """Where the camera was when the mark was made, and what stretch of footage has sound.

    `distance_m` and its deviation are from the clap to the microphone; `span` is on the
    footage clock.
    """

    clock: str
    span: Span
    distance_m: float = 0.0
    distance_sd_m: float = 0.5
    air_temperature_k: float = 288.15

    @property
    def sound_delay_s(self) -> float:
        """How long the sound takes to the camera."""
        return self.distance_m / sound_speed(self.air_temperature_k)

    @property
    def sound_delay_sd_s(self) -> float:
        """One standard deviation of that."""
        return self.distance_sd_m / sound_speed(self.air_temperature_k)


def sound_speed(temperature_k: float) -> float:
    """Metres a second in dry air: 331.3 √(1 + T/273.15) with T in °C."""
    return 331.3 * math.sqrt(temperature_k / 273.15)


def audible(marks: Sequence[Mark]) -> tuple[Mark, ...]:
    """The marks that can be heard, by their labels; all of them where no label says so."""
    heard = tuple(m for m in marks if any(word in m.label.casefold() for word in SOUND_WORDS))
    return heard or tuple(marks)


def clap_clues(
    scene: Scene,
    impulses: Sequence[Impulse],
    marks: Sequence[Mark],
    priors: Sequence[Clue] = (),
) -> Finding:
    """A clue for every clock whose marks the impulses match without doubt.

    Parameters
    ----------
    scene
        The footage, and how far from it the clap was.
    impulses
        What `find_impulses` found in its sound.
    marks
        Tie marks of all logs.
    priors
        Hints from the footage's clock to the marks' clocks, as stamps give them. The offset
        is looked for within `WINDOW_SDS` of their deviations.
    """
    finding = Finding()
    for clock in dict.fromkeys(mark.clock for mark in marks):
        mine = audible([mark for mark in marks if mark.clock == clock])
        hints = [p for p in priors if (p.from_clock, p.to_clock) == (scene.clock, clock)]
        finding += _on_clock(scene, impulses, mine, clock, hints)
    return finding


def _on_clock(
    scene: Scene,
    impulses: Sequence[Impulse],
    marks: Sequence[Mark],
    clock: str,
    hints: Sequence[Clue],
) -> Finding:
    name = scene.clock.partition(":")[2] or scene.clock
    count = f"{len(marks)} mark" + ("" if len(marks) == 1 else "s")
    if not impulses:
        return _none(f"{name}: nothing in the sound stands out like a clap")
    if not hints and len(marks) < STAMPLESS_MARKS:
        return _none(
            f"{name}: {count} and no stamp that says when it was filmed, so its claps could be "
            f"those of any day; {STAMPLESS_MARKS} claps at uneven intervals, or a typed tie "
            "mark, would settle it"
        )
    windows = tuple(
        Span(
            start_s=hint.offset_s - WINDOW_SDS * hint.sd_s,
            stop_s=hint.offset_s + WINDOW_SDS * hint.sd_s,
        )
        for hint in hints
    )
    found = _hypotheses(scene, impulses, marks, windows)
    if not found:
        return _none(
            f"{name}: its stamps put {count} on {clock} outside the footage or away from every "
            "sound like a clap; it may be footage of another time"
        )
    return _decide(scene, impulses, marks, clock, found, stamped=bool(hints))


def _hypotheses(
    scene: Scene, impulses: Sequence[Impulse], marks: Sequence[Mark], windows: tuple[Span, ...]
) -> list[Hypothesis]:
    heard = Instants(
        t_s=np.array([one.t_s for one in impulses]) - scene.sound_delay_s,
        sd_s=np.array([one.sd_s for one in impulses]),
        weight=np.minimum(np.array([one.rise_db for one in impulses]), MOST_DB),
    )
    wanted = Instants(
        t_s=np.array([mark.t_s for mark in marks]),
        sd_s=np.array([mark.sd_s for mark in marks]),
        weight=np.ones(len(marks)),
    )
    return [
        one
        for one in hypotheses(heard, wanted, windows or None, scene.span, MISSING_DB)
        if one.pairs
    ]


def _decide(
    scene: Scene,
    impulses: Sequence[Impulse],
    marks: Sequence[Mark],
    clock: str,
    found: list[Hypothesis],
    *,
    stamped: bool,
) -> Finding:
    """The best hypothesis as a clue, or why it is not to be trusted."""
    name = scene.clock.partition(":")[2] or scene.clock
    best = found[0]
    needed = 1 if stamped else STAMPLESS_MARKS
    if len(best.pairs) < needed:
        return _none(
            f"{name}: only {len(best.pairs)} of {len(marks)} marks on {clock} match its sound; "
            "a typed tie mark would settle it"
        )
    if len(found) > 1 and best.score - found[1].score < LEAD_DB:
        places = " or ".join(_place(one, impulses, marks) for one in found[:2])
        more = "" if len(found) == 2 else f" (and {len(found) - 2} more)"
        return _none(
            f"{name}: the sound fits the marks on {clock} in more than one way: {places}{more}; "
            "a second clap after an uneven pause, or a typed tie mark, would settle it"
        )
    if best.score < LEAD_DB:
        return _none(
            f"{name}: its sound hardly fits the marks on {clock} "
            f"(best: {_place(best, impulses, marks)}); a typed tie mark would settle it"
        )
    sd = math.hypot(best.sd_s, scene.sound_delay_sd_s)
    clue = Clue(
        kind="clap",
        from_clock=scene.clock,
        to_clock=clock,
        offset_s=best.offset_s,
        sd_s=sd,
        typed=all(marks[k].typed for _, k in best.pairs),
        text=f"{_place(best, impulses, marks)}, {scene.distance_m:.1f} m away",
    )
    return Finding(clues=(clue,))


def _place(one: Hypothesis, impulses: Sequence[Impulse], marks: Sequence[Mark]) -> str:
    """The first pair of a hypothesis in words, and how many more it has."""
    i, k = min(one.pairs)
    more = len(one.pairs) - 1
    rest = "" if not more else f" and {more} more"
    when = _when(marks[k])
    return f"the sound at {impulses[i].t_s:.3f} s as {marks[k].label!r} of {when}{rest}"


def _when(mark: Mark) -> str:
    return utc_text(mark.t_s) if mark.clock == UTC else f"{mark.t_s:.3f} s on {mark.clock}"


def _none(remark: str) -> Finding:
    return Finding(remarks=(remark,))
