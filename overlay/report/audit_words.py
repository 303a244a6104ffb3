"""How an audit is put into words: times of the film, what was read, and the verdict in one line."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from overlay.audit.claims.words import clock
from overlay.audit.verdict import MOST_UNREAD, Counts, Disagreement, Pair, Verdict
from overlay.figures import NO_VALUE
from overlay.report.words import listed, one_line

UNKNOWN = "cannot say"
NOTHING = "nothing"

FOUND = {
    "agrees": "All agrees",
    "disagrees": "It does not agree",
    "cannot say": "It cannot be said",
}


def film_time(t_s: float) -> str:
    """A time in the film, to the hundredth: `1:07.40`."""
    if not math.isfinite(t_s):
        return NO_VALUE
    hundredths = round(abs(t_s) * 100)
    minutes, rest = divmod(hundredths, 6000)
    sign = "−" if t_s < 0 and hundredths else ""
    return f"{sign}{minutes}:{rest // 100:02d}.{rest % 100:02d}"


def instant(t_utc_s: float) -> str:
    """An instant of UTC, to the hundredth: `04:13:13.40 UTC`."""
    return f"{clock(t_utc_s)} UTC" if math.isfinite(t_utc_s) else NO_VALUE


def frames_text(frames: tuple[int, int]) -> str:
    """Frames from the first to the last: `120 to 131`, or the one."""
    first, last = frames
    return f"{first}" if first == last else f"{first} to {last}"


def side_text(text: str | None) -> str:
    """What a side has: its words, `nothing` where it is blank, or that it cannot say."""
    if text is None:
        return UNKNOWN
    return one_line(text) or NOTHING


def pair_text(pair: Pair) -> str:
    """A pair that disagrees: `picture and logs`."""
    return " and ".join(pair)


def pairs_text(one: Disagreement) -> str:
    """All pairs that disagree."""
    return "; ".join(pair_text(pair) for pair in one.pairs)


def thing(instrument: str, item: str) -> str:
    """One thing on the picture: its instrument, and which part of it."""
    parts = [one_line(part) for part in (instrument, item) if part.strip()]
    return ": ".join(parts) or "film"


def many(count: int, one: str, more: str = "") -> str:
    """A count and its word: `1 frame`, `1,204 frames`."""
    return f"{count:,} {one if count == 1 else more or f'{one}s'}"


def share_text(part: int, whole: int) -> str:
    """A share in percent, never rounded up to all or down to none."""
    if not whole:
        return NO_VALUE
    hundredths = part * 10000 // whole
    if part and not hundredths:
        return "under 0.01 %"
    return f"{hundredths / 100:.2f} %"


def verdict_line(verdict: Verdict) -> str:
    """The verdict in one line."""
    if verdict.outcome == "disagrees":
        return f"{FOUND['disagrees']}: {listed(_against(verdict))}."
    if verdict.outcome == "cannot say":
        return f"{FOUND['cannot say']}: {listed(_in_doubt(verdict))}."
    counts = verdict.counts
    line = (
        f"{FOUND['agrees']}: {many(counts.held, 'value')} on {many(counts.frames_read, 'frame')} "
        "were read, and the logs support each of them"
    )
    elsewhere = sum(shot.kind == "elsewhere" for shot in verdict.shots)
    if elsewhere:
        line += f"; {many(elsewhere, 'shot')} of {len(verdict.shots)} come from elsewhere"
    if any(piece.tie_check.outcome == "none available" for piece in verdict.pieces):
        line += "; the tie itself could not be checked"
    return f"{line}."


def _against(verdict: Verdict) -> Iterator[str]:
    """What speaks against the film."""
    pieces = verdict.pieces
    found = sum(len(piece.disagreements) for piece in pieces)
    if found:
        yield f"{many(found, 'stretch', 'stretches')} of the film in which something is wrong"
    changed = {one.name for piece in pieces for one in piece.inputs if one.false}
    if changed:
        yield f"{many(len(changed), 'input')} changed since the render"
    ties = len({one.tie_check for one in pieces if one.tie_check.outcome == "disagrees"})
    if ties:
        yield (
            "a tie that the independent check contradicts"
            if ties == 1
            else (f"{ties} ties that independent checks contradict")
        )
    if verdict.wrong_results:
        yield f"{many(len(verdict.wrong_results), 'result')} that the logs do not bear out"
    claims = sum(one.verdict == "not supported" or bool(one.clashes) for one in verdict.claims)
    if claims:
        yield f"{many(claims, 'claim')} that the results do not support"


def _in_doubt(verdict: Verdict) -> Iterator[str]:
    """Why nothing can be signed for although nothing was found wrong."""
    counts = verdict.counts
    if not counts.held:
        yield "nothing could be held against the logs"
    if _too_little_read(counts):
        unread = share_text(counts.unread, counts.characters)
        yield f"{unread} of the characters could not be read ({MOST_UNREAD:.0%} may be)"
    if verdict.out_of_sight:
        yield f"{listed(verdict.out_of_sight)} could not be read for much of the film"
    if verdict.gone:
        yield f"{listed(verdict.gone)} cannot be found any more"
    unsure = sum(shot.kind in ("alike", "short") for shot in verdict.shots)
    if unsure:
        yield f"nobody can tell where {many(unsure, 'shot')} came from"
    unheld = {one.what for piece in verdict.pieces for one in piece.unheld}
    if unheld:
        yield f"{many(len(unheld), 'thing')} could not be held against anything"
    claims = sum(one.verdict == "cannot say" for one in verdict.claims)
    if claims:
        yield f"{many(claims, 'claim')} cannot be judged"


def _too_little_read(counts: Counts) -> bool:
    return counts.unread > MOST_UNREAD * counts.characters


def counted(counts: Counts) -> tuple[tuple[str, str], ...]:
    """How much was looked at, as pairs of words and number."""
    read = counts.characters - counts.unread
    return (
        ("frames looked at", f"{counts.frames_read:,} of {counts.frames:,}"),
        ("characters on them", f"{counts.characters:,}"),
        ("of these read", f"{read:,} ({share_text(read, counts.characters)})"),
        ("texts and marks", f"{counts.values:,}"),
        ("of these held against the logs", f"{counts.held:,}"),
    )


def results_text(verdict: Verdict) -> str:
    """How the day's figures fare that were worked out a second time."""
    unknown = [one for one in verdict.results if one.why]
    right = len(verdict.results) - len(unknown) - len(verdict.wrong_results)
    told = f"{right} of {many(len(verdict.results), 'figure')} agree within their uncertainty"
    if unknown:
        reasons = listed(dict.fromkeys(one.why for one in unknown))
        told += f"; {len(unknown)} could not be worked out ({reasons})"
    return f"{told}."


def readers_text(readers: Sequence[str]) -> str:
    """Who looked at the pictures."""
    return one_line("; ".join(readers))
