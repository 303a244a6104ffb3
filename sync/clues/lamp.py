"""The lamp: a flash in the picture held against tie marks in a log.

Light needs no time, but a frame is a long instant: a lamp is lit somewhere between one frame
and the next, and a shutter that rolls down the picture shows its lower rows later:

::

    offset = t_mark - (t_flash + down · readout)

How it can mislead: the sun flashes on water and windows, and the lamp may not be in this
footage at all. So all marks are matched at once, within what the stamps allow; a second answer
nearly as good makes no clue; and what chance could have done as well is a hint, until another
clue leads to the same place (`marks.trust`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sync.clock import UTC, Span, utc_text
from sync.clue import Clue, Finding
from sync.clues.clap import LEAD_DB, STAMPLESS_MARKS, WINDOW_SDS
from sync.clues.marks.matching import Hypothesis
from sync.clues.marks.trust import Guides, where_led
from sync.clues.picture.company import Company
from sync.clues.picture.flashes import Flash
from sync.clues.picture.shutter import READOUT_SD_SHARE, READOUT_SHARE, shutter_doubt
from sync.log import Mark

LIGHT_WORDS = ("lamp", "light", "flash", "strobe", "beacon", "torch", "led")
"""Labels of marks that can be seen, each as a word of its own or the beginning of one."""

SURE_DB, LEAST_DB = 25.0, 3.0
"""What an answer must score to be sure, and to be a hint: against marks of other days
the best of 144 answers scored 13 (own choice; other seeds than those of
tests/bench/accuracy_sync.py, which holds it)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """What footage is looked at: its clock, the stretch that has pictures, and its shutter.

    `readout_s` is how long the shutter takes from the first row to the last; None where
    nobody knows, and 0 where all rows are exposed at once.
    """

    clock: str
    span: Span
    readout_s: float | None = None

    @property
    def name(self) -> str:
        """What a person calls the footage."""
        return self.clock.partition(":")[2] or self.clock


def visible(marks: Sequence[Mark]) -> tuple[Mark, ...]:
    """The marks that can be seen, by their labels."""
    return tuple(
        mark for mark in marks if any(word.startswith(LIGHT_WORDS) for word in _words(mark.label))
    )


def _words(label: str) -> list[str]:
    return "".join(c if c.isalnum() else " " for c in label.casefold()).split()


def lamp_clues(
    watch: Watch,
    flashes: Sequence[Flash],
    marks: Sequence[Mark],
    priors: Sequence[Clue] = (),
    leads: Sequence[Clue] = (),
) -> Finding:
    """A clue for every clock whose marks the flashes match without doubt.

    Parameters
    ----------
    watch
        The footage and its shutter.
    flashes
        What `find_flashes` found in its picture.
    marks
        Tie marks of all logs.
    priors
        Hints from the footage's clock to the marks' clocks, as stamps give them.
    leads
        Clues of other kinds that are no hints: a lone flash where they lead to is the lamp.
    """
    finding = Finding()
    seen = [_unrolled(watch, flash) for flash in flashes]
    company = Company(seen, watch.span.length_s) if seen else None
    for clock in dict.fromkeys(mark.clock for mark in marks):
        mine = visible([mark for mark in marks if mark.clock == clock])
        if not mine:
            continue
        if company is None:
            finding += Finding(
                remarks=(f"{watch.name}: nothing in its picture flashes like a lamp",)
            )
            continue
        case = _Case(watch=watch, seen=seen, company=company, marks=mine, clock=clock)
        finding += case.judged(Guides.between(watch.clock, clock, priors, leads))
    return finding


def _unrolled(watch: Watch, flash: Flash) -> Flash:
    """The flash with its row's lag behind the first row taken out."""
    if watch.readout_s is not None:
        return replace(flash, t_s=flash.t_s + flash.down * watch.readout_s)
    return replace(
        flash,
        t_s=flash.t_s + flash.down * READOUT_SHARE * flash.frame_s,
        sd_s=math.hypot(flash.sd_s, flash.down * READOUT_SD_SHARE * flash.frame_s),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """The flashes of one recording against the marks on one clock."""

    watch: Watch
    seen: Sequence[Flash]
    company: Company
    marks: Sequence[Mark]
    clock: str

    def judged(self, guides: Guides) -> Finding:
        """The clue, or why there is none."""
        placed = bool(guides)
        if not placed and len(self.marks) < STAMPLESS_MARKS:
            return self._none(
                f"its stamps do not say when it was filmed, and {len(self.marks)} of the lamp's "
                f"marks could be those of any day; {STAMPLESS_MARKS} flashes at uneven intervals, "
                "or a typed tie mark, would settle it"
            )
        windows = guides.windows(WINDOW_SDS)
        answers = self.company.answers(self.marks, windows, self.watch.span)
        found = where_led(answers, guides.leads)
        if not found:
            return self._none(
                "nothing flashes where its stamps or typed ties would have the marks "
                f"{', '.join(repr(mark.label) for mark in self.marks[:3])}; the lamp may not be "
                "in the picture, or this is footage of another time"
            )
        if (reason := self._doubtful(found, placed=placed)) is not None:
            return self._none(reason)
        best = found[0]
        clue = self._clue(best)
        if best.score >= SURE_DB or guides.lead_to(best.offset_s):
            return Finding(clues=(clue,))
        remark = (
            f"{self.watch.name}: the flash at {self.seen[best.pairs[0][0]].t_s:.3f} s could be "
            "the lamp, but one flash is like another; three flashes at uneven intervals, or a "
            "typed tie for the first bright frame, would settle it"
        )
        return Finding(clues=(replace(clue, hint=True),), remarks=(remark,))

    def _doubtful(self, found: list[Hypothesis], *, placed: bool) -> str | None:
        """Why the best answer is not to be trusted, if it is not."""
        best = found[0]
        if not placed and len(best.pairs) < STAMPLESS_MARKS:
            return (
                f"only {len(best.pairs)} of {len(self.marks)} marks on {self.clock} match a flash; "
                "a typed tie mark would settle it"
            )
        if len(found) > 1 and best.score - found[1].score < LEAD_DB:
            return (
                f"its flashes fit the marks on {self.clock} in more than one way: "
                f"{self._told(best)} or {self._told(found[1])}; another flash after an uneven "
                "pause, or a typed tie mark, would settle it"
            )
        if best.score < LEAST_DB and len(self.seen) > 1:
            return (
                f"its flashes hardly fit the marks on {self.clock} (best: {self._told(best)}); "
                "a typed tie mark would settle it"
            )
        return None

    def _clue(self, best: Hypothesis) -> Clue:
        """The weighted mean over all pairs; what is not known of the shutter all share."""
        shutter = shutter_doubt(self.watch.clock, self.company.frame_s)
        middle = float(np.mean([self.seen[i].t_s for i, _ in best.pairs]))
        return Clue(
            kind="lamp",
            from_clock=self.watch.clock,
            to_clock=self.clock,
            offset_s=best.offset_s,
            sd_s=math.hypot(best.sd_s, shutter.sd_s),
            typed=all(self.marks[k].typed for _, k in best.pairs),
            text=(
                f"{self._told(best)}; ± {best.sd_s:.3f} s from the frames and "
                f"± {shutter.sd_s:.3f} s from the shutter"
            ),
            at_s=middle,
            doubts=(shutter,),
        )

    def _told(self, one: Hypothesis) -> str:
        i, k = min(one.pairs)
        mark, more = self.marks[k], len(one.pairs) - 1
        when = utc_text(mark.t_s) if mark.clock == UTC else f"{mark.t_s:.3f} s on {mark.clock}"
        told = f"the flash at {self.seen[i].t_s:.3f} s as {mark.label!r} of {when}"
        return f"{told} and {more} more" if more else told

    def _none(self, reason: str) -> Finding:
        return Finding(remarks=(f"{self.watch.name}: {reason}",))
