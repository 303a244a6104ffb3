"""The clap: an impulse in the sound held against tie marks in a log.

Sound needs time from the hands to the camera, so its distance is taken off:

::

    offset = t_mark - (t_onset - distance / c),    c = 331.3 √(1 + T / 273.15 K) m/s, T in °C

How it can mislead: other impulses sound like a clap, and the clap may not be in this footage
at all. So the search is limited to what the stamps allow; all marks are matched at once; and
where a second answer is nearly as good as the first there is no clue. One bang is like
another: what chance could have done as well is a hint, until a person says where in the
footage the clap is, or another clue leads to the same place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sync.clock import UTC, Span, utc_text
from sync.clue import Clue, Doubt, Finding
from sync.clues.marks.impulses import BEGINS_SD_S, Impulse
from sync.clues.marks.matching import (
    DRIFT_SD,
    WITHIN_S,
    WITHIN_SDS,
    Hypothesis,
    Instants,
    hypotheses,
)
from sync.clues.marks.trust import (
    MOST_BY_CHANCE,
    MOST_BY_HABIT,
    Guides,
    as_hint,
    by_chance,
    by_habit,
    where_led,
)
from sync.log import Mark

GROUP_S = 60.0
"""Claps further apart than this are clues of their own, so that they tell the rates of the
clocks too; at a millisecond each, nearer ones would not."""

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

CLAP_AT_S = 0.5
"""How near to the place that a person names the clap must be."""

SOUND_WORDS = ("clap", "knock", "tap", "bang", "slate", "hit")
"""Labels of marks that can be heard; a button or a lamp is silent."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """Where the camera was when the mark was made, and what stretch of footage has sound.

    `distance_m` and its deviation are from the clap to the microphone, through air of a
    temperature that is known to within its own; `span` is on the footage clock, and so is
    `clap_at_s`, where a person says that a clap is to be seen.
    """

    clock: str
    span: Span
    distance_m: float = 0.0
    distance_sd_m: float = 0.5
    air_temperature_k: float = 288.15
    air_temperature_sd_k: float = 2.0
    clap_at_s: float | None = None

    @property
    def sound_delay_s(self) -> float:
        """How long the sound takes to the camera."""
        return self.distance_m / sound_speed(self.air_temperature_k)

    @property
    def sound_delay_sd_s(self) -> float:
        """One standard deviation of that; the speed goes with the root of the temperature."""
        of_distance = self.distance_sd_m / sound_speed(self.air_temperature_k)
        share = 0.5 * self.air_temperature_sd_k / self.air_temperature_k
        return math.hypot(of_distance, share * self.sound_delay_s)


def sound_speed(temperature_k: float) -> float:
    """Metres a second in dry air: 331.3 √(1 + T/273.15) with T in °C."""
    return 331.3 * math.sqrt(temperature_k / 273.15)


def audible(marks: Sequence[Mark]) -> tuple[Mark, ...]:
    """The marks that can be heard, by their labels."""
    return tuple(m for m in marks if any(word in m.label.casefold() for word in SOUND_WORDS))


def clap_clues(
    scene: Scene,
    impulses: Sequence[Impulse],
    marks: Sequence[Mark],
    priors: Sequence[Clue] = (),
    leads: Sequence[Clue] = (),
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
    leads
        Clues of other kinds that are no hints: a lone clap where they lead to is the clap.
    """
    finding = Finding()
    for clock in dict.fromkeys(mark.clock for mark in marks):
        mine = audible([mark for mark in marks if mark.clock == clock])
        if mine:
            guides = Guides.between(scene.clock, clock, priors, leads)
            finding += _on_clock(scene, _named(scene, impulses), mine, clock, guides)
    return finding


def _named(scene: Scene, impulses: Sequence[Impulse]) -> Sequence[Impulse]:
    """The impulses at the place that a person names, or all where nobody does."""
    if scene.clap_at_s is None:
        return impulses
    return [one for one in impulses if abs(one.t_s - scene.clap_at_s) <= CLAP_AT_S]


def _on_clock(
    scene: Scene, impulses: Sequence[Impulse], marks: Sequence[Mark], clock: str, guides: Guides
) -> Finding:
    name = scene.clock.partition(":")[2] or scene.clock
    if (reason := _hopeless(scene, impulses, marks, name, placed=bool(guides))) is not None:
        return _none(reason)
    found = _hypotheses(scene, impulses, marks, guides.windows(WINDOW_SDS))
    if not found:
        return _none(
            f"{name}: no sound like a clap stands where its stamps or typed ties would have "
            f"{_named_marks(marks)}; it may be footage of another time, or the camera's clock may "
            "be further out than clock_within says"
        )
    found = where_led(found, guides.leads)
    finding = _decide(scene, impulses, marks, clock, found, stamped=bool(guides))
    if not finding.clues or scene.clap_at_s is not None or guides.lead_to(found[0].offset_s):
        return finding
    if not _could_be_chance(found[0], scene, impulses, marks):
        return finding
    return as_hint(finding, name, impulses[min(found[0].pairs)[0]].t_s)


def _could_be_chance(
    best: Hypothesis, scene: Scene, impulses: Sequence[Impulse], marks: Sequence[Mark]
) -> bool:
    """Whether other bangs, or other people's claps, could have matched as well."""
    sds = [math.hypot(impulses[i].sd_s, marks[k].sd_s) for i, k in best.pairs]
    within = max(WITHIN_S, WITHIN_SDS * max(sds))
    times = sorted(impulses[i].t_s for i, _ in best.pairs)
    return (
        by_chance(best, len(impulses), len(marks), scene.span.length_s, within) > MOST_BY_CHANCE
        or by_habit(times, within) > MOST_BY_HABIT
    )


def _hopeless(
    scene: Scene, impulses: Sequence[Impulse], marks: Sequence[Mark], name: str, *, placed: bool
) -> str | None:
    """Why there is no use in looking for a match, if there is none."""
    if not impulses:
        place = "" if scene.clap_at_s is None else f" near {scene.clap_at_s:.1f} s"
        return f"{name}: nothing in the sound{place} stands out like a clap"
    if not placed and len(marks) < STAMPLESS_MARKS:
        return (
            f"{name}: {_count(marks)} and no stamp that says when it was filmed, so its claps "
            f"could be those of any day; {STAMPLESS_MARKS} claps at uneven intervals, or a typed "
            "tie mark, would settle it"
        )
    return None


def _named_marks(marks: Sequence[Mark]) -> str:
    return ", ".join(f"{mark.label!r} of {_when(mark)}" for mark in marks[:3])


def _count(marks: Sequence[Mark]) -> str:
    return f"{len(marks)} mark" + ("" if len(marks) == 1 else "s")


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
        for one in hypotheses(
            heard, wanted, windows or None, scene.span, MISSING_DB, drift=DRIFT_SD
        )
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
    groups = _groups(best.pairs, impulses)
    return Finding(clues=tuple(_clue(scene, impulses, marks, clock, pairs) for pairs in groups))


Pairs = tuple[tuple[int, int], ...]


def _groups(pairs: Pairs, impulses: Sequence[Impulse]) -> list[Pairs]:
    """The pairs of impulse and mark in stretches that are far apart."""
    groups: list[Pairs] = []
    for pair in sorted(pairs, key=lambda one: impulses[one[0]].t_s):
        t = impulses[pair[0]].t_s
        if groups and t - impulses[groups[-1][-1][0]].t_s <= GROUP_S:
            groups[-1] = (*groups[-1], pair)
        else:
            groups.append((pair,))
    return groups


def _clue(
    scene: Scene, impulses: Sequence[Impulse], marks: Sequence[Mark], clock: str, pairs: Pairs
) -> Clue:
    """What claps in one stretch say together: the weighted means of offset and instant.

    How softly the same hands begin, how far off they are, and how late the log marks them, all
    of them share:

    ::

        sd² = Σ (w sd_onset)² + (Σ w sd_mark)² + sd_begin² + (distance's sd / c)²,    Σ w = 1
    """
    weights = np.array([1.0 / (impulses[i].sd_s ** 2 + marks[k].sd_s ** 2) for i, k in pairs])
    heard = np.array([impulses[i].t_s for i, _ in pairs])
    offsets = np.array([marks[k].t_s - (impulses[i].t_s - scene.sound_delay_s) for i, k in pairs])
    weights /= weights.sum()
    onsets = weights * [impulses[i].sd_s for i, _ in pairs]
    stamps = weights * [marks[k].sd_s for _, k in pairs]
    own_sd = math.hypot(float(np.linalg.norm(onsets)), float(stamps.sum()))
    way = Doubt(
        name=f"the clap's way to {scene.clock}",
        sd_s=math.hypot(BEGINS_SD_S, scene.sound_delay_sd_s),
    )
    return Clue(
        kind="clap",
        from_clock=scene.clock,
        to_clock=clock,
        offset_s=float(offsets[0] + np.average(offsets - offsets[0], weights=weights)),
        sd_s=math.hypot(own_sd, way.sd_s),
        typed=all(marks[k].typed for _, k in pairs),
        text=f"{_told(pairs, impulses, marks)}, {scene.distance_m:.1f} m away",
        at_s=float(heard[0] + np.average(heard - heard[0], weights=weights)),
        doubts=(way,),
    )


def _place(one: Hypothesis, impulses: Sequence[Impulse], marks: Sequence[Mark]) -> str:
    """The first pair of a hypothesis in words, and how many more it has."""
    return _told(one.pairs, impulses, marks)


def _told(pairs: Pairs, impulses: Sequence[Impulse], marks: Sequence[Mark]) -> str:
    i, k = min(pairs)
    more = len(pairs) - 1
    rest = "" if not more else f" and {more} more"
    when = _when(marks[k])
    return f"the sound at {impulses[i].t_s:.3f} s as {marks[k].label!r} of {when}{rest}"


def _when(mark: Mark) -> str:
    return utc_text(mark.t_s) if mark.clock == UTC else f"{mark.t_s:.3f} s on {mark.clock}"


def _none(remark: str) -> Finding:
    return Finding(remarks=(remark,))
