"""The figures of a render as captions: SubRip, as players read it, and WebVTT (W3C).

A caption has the very texts that the ledger says were shown, and none of its own. It stays while
they do; where they change more often than once a second, it keeps those that were shown
when it came on for a second, except that a mark that is passed is told at once. It comes on with
the frame that showed them, to the last whole millisecond before it, which is before that frame
and after the one before: both forms count milliseconds.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from overlay.figures import LABELS
from sync.channel_kinds import CHANNELS

if TYPE_CHECKING:
    from overlay.ledger import Ledger

LEAST_S = Fraction(1)
"""How long a caption stays, for it takes about that to read one."""

SHORTEST_S = Fraction(3, 10)
"""What would stay for less than this is not worth coming on for: the caption before it stays."""

READOUTS = {"value", "port", "starboard"}
"""What an instrument calls numbers that go on changing; all others are marks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cue:
    """One caption: from when to when, on the film's own time, and its lines."""

    start_s: Fraction
    stop_s: Fraction
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What one frame showed: numbers that change, and the mark passed last."""

    readouts: tuple[str, ...] = ()
    mark: str = ""

    @property
    def lines(self) -> tuple[str, ...]:
        """The lines of a caption."""
        rows = (" · ".join(self.readouts), self.mark)
        return tuple(row for row in rows if row)


def figures_by_frame(ledger: Ledger, frames: int) -> list[Figures]:
    """What each of so many frames of a render showed."""
    readouts: list[dict[tuple[str, str], str]] = [{} for _ in range(frames)]
    marks: list[str] = [""] * frames
    since: dict[tuple[str, str], int] = {}
    names = ("frame", "instrument", "item", "text", "unit", "channel")
    columns = [ledger.rows[name].tolist() for name in names]
    newest = [-1] * frames
    for frame, instrument, item, text, unit, channel in zip(*columns, strict=True):
        if not 0 <= frame < frames:
            continue
        told = " ".join((text if not unit else f"{text}{'' if unit == '°' else ' '}{unit}").split())
        if item in READOUTS:
            readouts[frame][instrument, item] = f"{_label(instrument, item, channel)} {told}"
            continue
        first = since.setdefault((instrument, item), frame)
        if first >= newest[frame]:
            newest[frame], marks[frame] = first, " ".join(f"{item} {told}".split())
    return [
        Figures(readouts=tuple(row.values()), mark=mark)
        for row, mark in zip(readouts, marks, strict=True)
    ]


def _label(instrument: str, item: str, channel: str) -> str:
    """What a number is called beside it: as on the screen, and the engine's side."""
    name = channel.partition(".")[0]
    label = LABELS.get(name) or (CHANNELS[name].text if name in CHANNELS else instrument)
    return label if item == "value" else f"{label}, {item}"


def cues_of(figures: Sequence[Figures], times_s: Sequence[Fraction]) -> list[Cue]:
    """The captions of a film.

    Parameters
    ----------
    figures
        What each frame showed.
    times_s
        When each frame is shown, and when the last one ends: one more than there are frames.
    """
    cues: list[Cue] = []
    now: Figures | None = None
    since = Fraction(0)
    for shown, t_s in zip([*figures, Figures()], times_s, strict=True):
        if now is not None and _goes_on(now, shown, t_s - since):
            continue
        if now is not None and now.lines:
            _add(cues, Cue(start_s=since, stop_s=t_s, lines=now.lines))
        now, since = shown, t_s
    return cues


def _add(cues: list[Cue], cue: Cue) -> None:
    """Put a caption behind the others, or let the last of them stay for it where it is short."""
    short = cue.stop_s - cue.start_s < SHORTEST_S
    if short and cues and cues[-1].stop_s == cue.start_s:
        cues[-1] = replace(cues[-1], stop_s=cue.stop_s)
    else:
        cues.append(cue)


def _goes_on(now: Figures, shown: Figures, for_s: Fraction) -> bool:
    """Whether a caption stays on a frame."""
    if shown == now:
        return True
    same_kind = bool(shown.lines) == bool(now.lines) and shown.mark == now.mark
    return same_kind and for_s < LEAST_S


def _stamp(t_s: Fraction, sign: str) -> str:
    """Hours, minutes, seconds and the last whole millisecond."""
    total, thousandths = divmod(math.floor(t_s * 1000), 1000)
    minutes, seconds = divmod(total, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{seconds:02d}{sign}{thousandths:03d}"


def _told(cues: Iterable[Cue], sign: str) -> Iterator[tuple[str, tuple[str, ...]]]:
    for cue in cues:
        yield f"{_stamp(cue.start_s, sign)} --> {_stamp(cue.stop_s, sign)}", cue.lines


def subrip(cues: Iterable[Cue]) -> str:
    """Captions as SubRip has them."""
    blocks = [
        "\n".join((str(number), times, *lines))
        for number, (times, lines) in enumerate(_told(cues, ","), start=1)
    ]
    return "".join(f"{block}\n\n" for block in blocks)


def webvtt(cues: Iterable[Cue], note: str) -> str:
    """Captions as WebVTT has them, with a note for whoever reads the file."""
    blocks = ["WEBVTT", f"NOTE {_no_arrow(note)}"]
    blocks += [
        "\n".join((times, *(_escaped(line) for line in lines))) for times, lines in _told(cues, ".")
    ]
    return "".join(f"{block}\n\n" for block in blocks)


def _escaped(line: str) -> str:
    """A line in which nothing is taken for a tag, a reference or the arrow between two times."""
    return line.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _no_arrow(note: str) -> str:
    return note.replace("-->", "->")
