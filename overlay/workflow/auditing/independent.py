"""Whether the tie itself is right: a clue that it does not rest on, on the finished film.

Picture, ledger and logs share one tie, so a wrong one passes every comparison between them. The
film's own sound and picture are held against the logs again, near where its ledger has them. A
clue of a sort that the tie was made without counts as it is. One of a sort that it was made with
is held against the tie as the other clues alone would have it, if they make one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from overlay.audit.verdict import TieCheck
from overlay.trial import Material, footage_clock
from overlay.workflow.evidence.heard import heard_clues
from overlay.workflow.evidence.logs import logged
from overlay.workflow.evidence.places import on_utc
from overlay.workflow.evidence.seen import seen_clues
from overlay.workflow.evidence.senses import Senses
from sync.clock import UTC
from sync.clue import Clue, Finding
from sync.clues import CLUES
from sync.errors import TrialReelError
from sync.tie import Ties, solve

if TYPE_CHECKING:
    from overlay.sheet.recording import Recording
    from sync.media import Footage

NEAR_SD_S = 1.0
"""The film's ledger is taken for so good a hint: three times this is looked through to either
side, so that a tie that is half a second off is found, and a launch is not taken for another."""

TELLS_S = 0.2
"""A clue that is surer than this, as a standard deviation, would tell a tie half a second off."""

MOST_SDS = 3.5
"""So many standard deviations apart is no accident: one time in two thousand."""

SHUTTER_S = 0.005
"""What sound and picture of one film may be apart besides."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A clue on the film, how much later than wanted it puts things, and how sure that is."""

    clue: Clue
    off_s: float
    sd_s: float
    independent: bool


def check_tie(
    material: Material,
    ties: Ties,
    recording: str,
    film: Footage,
    *,
    t_film_s: float,
    t_utc_s: float,
    where: str = "the finished film",
) -> TieCheck:
    """Hold the finished film against the logs anew.

    Parameters
    ----------
    film
        The finished clip.
    t_film_s, t_utc_s
        An instant in the middle of it, and what its ledger has it for.
    where
        What the sentence calls it.
    """
    entry = next((one for one in material.sheet.recordings if one.name == recording), None)
    if entry is None:
        return _none(f"the sheet has no recording {recording!r} any more")
    if entry.slow_motion is not None:
        return _none("it plays in slow motion")
    entry = entry.model_copy(update={"ties": (), "timecode": None, "clap_at": None})
    clock = footage_clock(recording)
    offset_s = t_utc_s - t_film_s
    hint = Clue(
        kind="stamps", from_clock=clock, to_clock=UTC, offset_s=offset_s, sd_s=NEAR_SD_S, hint=True
    )
    clues, why = _clues(material, ties, entry, film, hint)
    found = [
        one
        for clue in clues
        if not clue.hint and not clue.typed
        for one in _held(clue, ties, clock, offset_s, t_utc_s)
        if one.sd_s <= TELLS_S
    ]
    if not found:
        return _none(why or "nothing is heard or seen on it that the logs know")
    best = min(found, key=lambda one: (not one.independent, one.sd_s))
    return _told(best, where)


def _none(why: str) -> TieCheck:
    return TieCheck(outcome="none available", sentence=f"Independent check: none available; {why}.")


def _clues(
    material: Material, ties: Ties, entry: Recording, film: Footage, hint: Clue
) -> tuple[tuple[Clue, ...], str]:
    """All that is heard and seen on the film, and why there is no more."""
    written = Finding(clues=(hint,))
    known = logged(material, ties, Senses())
    finding = Finding()
    try:
        finding += heard_clues(material, entry, film, written, known)
    except TrialReelError as error:
        finding += Finding(remarks=(error.what,))
    try:
        finding += seen_clues(entry, film, written, (hint, *finding.clues), known)
    except TrialReelError as error:
        finding += Finding(remarks=(error.what,))
    return finding.clues, "; ".join(one.rstrip(".") for one in finding.remarks)


def _held(clue: Clue, ties: Ties, clock: str, offset_s: float, t_utc_s: float) -> list[Found]:
    """A clue against the tie that does without its sort; nothing where none does."""
    carried = on_utc(clue, ties)
    if not carried:
        return []
    to_utc = carried[0]
    tie = ties.by_clock.get(clock)
    rests_on = (
        {one.kind for one in tie.clues if clock in (one.from_clock, one.to_clock)} if tie else set()
    )
    if clue.kind not in rests_on:
        return [
            Found(clue=clue, off_s=to_utc.offset_s - offset_s, sd_s=to_utc.sd_s, independent=True)
        ]
    without = _without(ties, clock, clue.kind)
    if tie is None or without is None:
        return []
    # Both ties are of the footage's clock; the film shows the instant of UTC that its ledger has.
    t_footage_s = tie.map.inverse().carry(t_utc_s)
    other_s = without.by_clock[clock].map.carry(t_footage_s) - t_utc_s
    sd_s = math.hypot(to_utc.sd_s, without.by_clock[clock].sd_at(t_footage_s))
    off_s = to_utc.offset_s - offset_s - other_s
    return [Found(clue=clue, off_s=off_s, sd_s=sd_s, independent=False)]


def _without(ties: Ties, clock: str, kind: str) -> Ties | None:
    """The ties as they would be without what one sort of clue says of a clock."""
    clues = {
        clue: None
        for tie in ties.by_clock.values()
        for clue in (*tie.clues, *tie.set_aside)
        if not (clue.kind == kind and clock in (clue.from_clock, clue.to_clock))
    }
    solved = solve(ties.by_clock, clues, {})
    return solved if clock in solved.by_clock else None


def _told(found: Found, where: str) -> TieCheck:
    sd_s = math.hypot(found.sd_s, SHUTTER_S)
    agrees = abs(found.off_s) <= MOST_SDS * sd_s
    what = CLUES[found.clue.kind].text
    against = "" if found.independent else ", with the tie that follows from the other clues,"
    if agrees:
        sentence = (
            f"Independent check: agrees within {max(abs(found.off_s) * 1e3, 1):.0f} ms "
            f"(± {sd_s * 1e3:.0f} ms): {what}{against} on {where}."
        )
    else:
        late = "later" if found.off_s > 0 else "earlier"
        sentence = (
            f"Independent check: disagrees: {what}, on {where}{against} puts it "
            f"{abs(found.off_s):.3f} s {late} (± {sd_s:.3f} s) than its digits have it."
        )
    return TieCheck(
        outcome="agrees" if agrees else "disagrees",
        sentence=sentence,
        clue=found.clue.kind,
        off_s=found.off_s,
        sd_s=sd_s,
    )
