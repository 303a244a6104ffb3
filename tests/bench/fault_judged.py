"""Whether an audit said what is false on a clip, named where it is false, and said no more."""

from __future__ import annotations

from false_clips import Clip, Crew, Frames, Place, audited, false_on, said_of, without_empty
from fault_study import Fared, NoFaultError

from overlay.audit.verdict import Disagreement, Pair, Piece

PICTURE: tuple[Pair, ...] = (("picture", "ledger"), ("picture", "logs"))
BOTH: tuple[Pair, ...] = (("ledger", "logs"), ("picture", "logs"))
"""Which pairs a fault shows in that is in the picture alone, and one that the ledger shares."""


def numbers_judged(
    clip: Clip, crew: Crew, also: tuple[str, ...] = (), root: Place | None = None
) -> Fared:
    """How an audit fares with false numbers; `also` are instruments that are false besides, and
    `root` is the one that makes others false, so that to name it is enough."""
    wanted = without_empty(false_on(clip))
    if not wanted:
        raise NoFaultError
    piece = audited(clip, crew)
    said = without_empty(said_of(piece))
    places = {place for at in wanted.values() for place in at}
    frames = {
        place: set().union(*(at.get(place, set()) for at in wanted.values())) for place in places
    }
    named = {
        place: [one for one in piece.disagreements if _names(one, place, frames[place])]
        for place in places
    }
    found = all(named.values()) if root is None else bool(named.get(root))
    pairs = {pair for ones in named.values() for one in ones for pair in one.pairs}
    mine = {instrument for instrument, _ in places} | set(also)
    if ("ledger", "logs") in wanted:
        mine.add("")
    beside = [one for one in piece.disagreements if one.instrument not in mine]
    return Fared(
        found=found,
        pairs=pairs == wanted.keys(),
        frames=said == wanted,
        beside=len(beside),
        told="" if found and said == wanted and not beside else _told(wanted, said, piece),
    )


def _names(one: Disagreement, place: Place, frames: set[int]) -> bool:
    """Whether it is said of a number that it is false: by its own or by the words beside it on
    frames on which it is, or by what the ledger has of the whole clip."""
    instrument, item = place
    if one.box_px is None:
        return one.instrument in (instrument, "") and one.item == item
    here = one.sort == "label" or one.item == item
    return (
        one.instrument == instrument
        and here
        and any(one.frames[0] <= frame <= one.frames[1] for frame in frames)
    )


def _told(wanted: Frames, said: Frames, piece: Piece) -> str:
    short = [one.sentence for one in piece.disagreements[:3]]
    return f"false: {_few(wanted)}; said: {_few(said)}; {short}"


def _few(frames: Frames) -> str:
    return ", ".join(
        f"{pair[0]}/{pair[1]} {place[0]} {place[1]} {min(at)}-{max(at)} ({len(at)})"
        for pair, places in frames.items() for place, at in places.items()
    )[:400]  # fmt: skip


def labels_judged(piece: Piece, instruments: set[str], pairs: tuple[Pair, ...]) -> Fared:
    """How it fares with false labels and units on some instruments."""
    mine = [one for one in piece.disagreements if one.instrument in instruments and one.box_px]
    beside = [one for one in piece.disagreements if one.instrument not in instruments | {""}]
    named = {pair for one in mine for pair in one.pairs}
    found = bool(mine)
    right = named == set(pairs)
    said = [one.sentence for one in piece.disagreements[:3]]
    return Fared(
        found=found, pairs=right, frames=found, beside=len(beside),
        told="" if found and right and not beside else f"{sorted(named)} {said}",
    )  # fmt: skip
