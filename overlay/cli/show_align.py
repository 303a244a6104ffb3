"""What `trialreel align` prints: every clock with its tie, and the evidence for and against."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from overlay.cli.console import OUT, as_document, lines, table
from overlay.cli.exit_codes import CANNOT_SAY, DONE
from sync.clock import UTC, utc_text
from sync.tie import clock_text
from sync.ties_file import document

if TYPE_CHECKING:
    from overlay.workflow.align import AlignOutcome
    from sync.clue import Clue
    from sync.tie import Loop, Tie, Ties


def align(outcome: AlignOutcome, *, as_json: bool) -> int:
    """Print clues and ties; the exit code says whether all that was asked has an answer."""
    code = CANNOT_SAY if outcome.refused else DONE
    for clock in outcome.refused:
        print(
            f"trialreel: {clock_text(clock)} has no tie: {outcome.ties.refused[clock]}.",
            file=sys.stderr,
        )
    if as_json:
        as_document(document(outcome.ties))
        return code
    for clock in dict.fromkeys((*outcome.ties.by_clock, *outcome.ties.refused)):
        _clock(clock, outcome)
    lines("around the loops", tuple(_loop(one) for one in outcome.ties.loops))
    lines("settled by the clues together", _settled(outcome.ties))
    for clock, remarks in outcome.remarks.items():
        lines(clock_text(clock), remarks)
    OUT.print(f"written: {outcome.path}")
    if outcome.refused:
        OUT.print("what each kind of clue needs: trialreel clues KIND")
    for picture in outcome.pictures:
        OUT.print(f"look at: {picture}")
    return code


def _clock(clock: str, outcome: AlignOutcome) -> None:
    """One clock: its tie as the title, and a row for each clue that speaks of it."""
    tie = outcome.ties.by_clock.get(clock)
    title = f"{clock_text(clock)}: no tie"
    if tie is not None:
        zero = _zero(tie.map.offset_s, UTC, tie.sd_s)
        title = f"{clock_text(clock)}: its zero is {zero} ± {_deviation(tie.sd_s)}{_rate(tie)}"
    mine = [clue for clue in outcome.clues if clue.from_clock == clock]
    if not mine:
        OUT.print(title, style="bold")
        return
    made = table(title, "clue", "its zero is", "± 1 sd", "evidence")
    for column in made.columns[:3]:
        column.no_wrap = True
    for clue in mine:
        zero = _zero(clue.offset_s, clue.to_clock, clue.sd_s)
        made.add_row(
            clue.kind.replace("_", " "),
            _short_of(zero, title).replace(" of ", "\nof ", 1),
            _deviation(clue.sd_s),
            f"{_part(clue, tie)}{clue.text}",
        )
    OUT.print(made)


def _part(clue: Clue, tie: Tie | None) -> str:
    """What a clue has to do with the tie, where it is not one that the tie rests on."""
    if tie is not None and clue in tie.set_aside:
        return "at odds, set aside: "
    if not clue.hint:
        return ""
    return "a hint, agrees: " if tie is not None and clue in tie.hints else "a hint: "


def _zero(offset_s: float, to_clock: str, sd_s: float) -> str:
    """Where a clock's zero lies on the other: a time of day on UTC, else seconds."""
    digits = 0 if sd_s >= 1 else 4
    if to_clock != UTC:
        return f"{offset_s:.{digits}f} s of {clock_text(to_clock)}"
    return utc_text(offset_s, digits).replace("T", " ")


def _short_of(zero: str, title: str) -> str:
    """A time without the day, if the title has that day; a narrow terminal has no room."""
    day, space, time = zero.partition(" ")
    return time if space and day in title and day.count("-") == 2 else zero


def _deviation(sd_s: float) -> str:
    return f"{sd_s:.0f} s" if sd_s >= 1 else f"{sd_s * 1000:.1f} ms"


def _rate(tie: Tie) -> str:
    """How fast a clock runs, where the clues tell more than one expects of it anyway."""
    if not tie.rate_known:
        return ""
    gains_ppm = (1.0 / tie.map.rate - 1.0) * 1e6
    way = "fast" if gains_ppm >= 0 else "slow"
    return f", {abs(gains_ppm):.1f} ± {tie.rate_sd * 1e6:.1f} ppm {way}"


def _loop(loop: Loop) -> str:
    ends = (*loop.clocks[1:], loop.clocks[0])
    way = "".join(
        f" ({kind.replace('_', ' ')}) {_short(clock)}"
        for kind, clock in zip(loop.kinds, ends, strict=True)
    )
    miss, doubt = _deviation(abs(loop.misclosure_s)), _deviation(loop.sd_s)
    return f"{_short(loop.clocks[0])}{way}: off by {miss}, {doubt} expected"


def _short(clock: str) -> str:
    return clock.upper() if clock == UTC else clock.replace(":", " ")


def _settled(ties: Ties) -> tuple[str, ...]:
    """The doubts that the clues have narrowed."""
    return tuple(
        f"{name.replace('log:', '').replace('footage:', '')}: {one.value_s:+.3f} ± "
        f"{one.sd_s:.3f} s from what it was taken for (0 ± {one.expected_sd_s:.3f} s)"
        for name, one in ties.doubts.items()
        if one.narrowed
    )
