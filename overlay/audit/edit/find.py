"""Which piece of which footage each shot of an edited film is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

import numpy as np

from overlay.audit.edit.covers import Cover
from overlay.audit.edit.film import film_pictures
from overlay.audit.edit.following import Placed
from overlay.audit.edit.joining import joined
from overlay.audit.edit.placing import Placer
from overlay.audit.edit.searching import LEAST_FRAMES, Found
from overlay.audit.edit.shot import Resemblance, Shot
from overlay.audit.edit.shots import pieces
from overlay.audit.edit.sources import Source
from overlay.audit.edit.transitions import is_transition
from sync.media import probe

if TYPE_CHECKING:
    from numpy.typing import NDArray


SAME_S = 0.5
"""Stretches that a shot looks like are one where no more lies between them."""


class Progress(Protocol):
    """Called with the name of the stage, what is done of it, and how much it is in all."""

    def __call__(self, stage: str, done: float, total: float) -> None:
        """Take note."""
        ...


def _nobody(stage: str, done: float, total: float) -> None:
    """Tell nobody."""


def find_shots(
    film_path: Path,
    sources: Sequence[Source],
    progress: Progress = _nobody,
    *,
    covers: Sequence[Cover] = (),
) -> tuple[Shot, ...]:
    """The shots of a film, in their order, each with the place that it was cut from.

    Frames of a transition belong to no shot.

    Parameters
    ----------
    covers
        What transparent renders hide, which may have been laid over the recordings.

    Raises
    ------
    FootageError
        Where the film, or a source that is looked at closer, cannot be decoded.
    """
    film = probe(film_path)
    with film_pictures(film, lambda done, total: progress("read the film", done, total)) as seen:
        return _shots(Placer(film=seen, sources=sources, covers=covers), progress)


def _shots(placer: Placer, progress: Progress) -> tuple[Shot, ...]:
    film = placer.film
    found = pieces(film.small)
    borders = sorted({n for piece in found for n in (piece.start, piece.stop)})
    taken = np.zeros(len(film.times_s), bool)
    shots: list[Shot] = []
    waiting = sorted(found, key=len)
    total = len(film.times_s)
    while waiting:
        piece = waiting.pop()
        rest = _free(taken, piece)
        if rest != [piece]:
            waiting += rest
            waiting.sort(key=len)
            continue
        progress("place shots", float(taken.sum()), total)
        for shot in _found(placer, piece, taken, borders):
            taken[shot.frames.start : shot.frames.stop] = True
            shots.append(shot)
        waiting += _free(taken, piece)
        waiting.sort(key=len)
    progress("place shots", total, total)
    kept = [
        shot
        for shot in sorted(shots, key=lambda shot: shot.frames.start)
        if shot.kind == "placed" or not is_transition(film.small, shot.frames)
    ]
    return joined(kept)


def _free(taken: NDArray[np.bool_], piece: range) -> list[range]:
    """What is left of a stretch."""
    edges = np.flatnonzero(np.diff(taken[piece.start : piece.stop], prepend=True, append=True))
    return [
        range(piece.start + int(a), piece.start + int(b))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]


def _limits(taken: NDArray[np.bool_], piece: range) -> range:
    """The frames around a stretch that belong to no other shot."""
    before = np.flatnonzero(taken[: piece.start])
    after = np.flatnonzero(taken[piece.stop :])
    return range(
        int(before[-1]) + 1 if len(before) else 0,
        piece.stop + int(after[0]) if len(after) else len(taken),
    )


def _found(
    placer: Placer, piece: range, taken: NDArray[np.bool_], borders: Sequence[int]
) -> list[Shot]:
    """What a stretch is: one shot, or several on one line where something flashes in between."""
    film = placer.film
    if len(piece) < LEAST_FRAMES:
        short = Shot(
            frames=piece,
            start_s=float(film.times_s[piece.start]),
            stop_s=float(film.stops_s[piece.stop - 1]),
            kind="short",
            why=f"cannot say: it has {len(piece)} frames, and no fewer than {LEAST_FRAMES} show"
            " where they come from",
        )
        return [short]
    placed, resembling = placer.place(piece)
    if placed is None:
        return [_unplaced(placer, piece, resembling)]
    limits = _limits(taken, piece)
    placer.extended(placed, limits, sorted({*borders, limits.start, limits.stop}))
    strange = np.zeros(len(taken), bool)
    strange[placed.frames.start : placed.frames.stop] = placer.strangers(placed)
    return [_as_shot(placer, replace(placed, frames=own)) for own in _free(strange, placed.frames)]


def _unplaced(placer: Placer, piece: range, resembling: tuple[Found, ...]) -> Shot:
    still = [one for one in resembling if one.sighting.still and one.sighting.whole > 0.6]
    names = {placer.sources[one.line.source].name for one in still}
    film = placer.film
    alike = _resembled(placer.sources, still)
    return Shot(
        frames=piece,
        start_s=float(film.times_s[piece.start]),
        stop_s=float(film.stops_s[piece.stop - 1]),
        kind="alike" if still else "elsewhere",
        why=f"cannot say: it looks like {' and '.join(sorted(names))}, where nothing moves by"
        " which to tell when"
        if still
        else "from elsewhere: no footage of the trial looks like it",
        alike=alike,
    )


def _resembled(sources: Sequence[Source], found: Sequence[Found]) -> tuple[Resemblance, ...]:
    """The stretches of sources that a shot looks like, those that meet put together."""
    spans = sorted(
        (one.line.source, int(one.sighting.first.min()), int(one.sighting.last.max()))
        for one in found
    )
    joined: list[tuple[int, int, int]] = []
    for number, first, last in spans:
        if joined and joined[-1][0] == number and first <= joined[-1][2] + 1 + SAME_S / (
            sources[number].step_s
        ):  # fmt: skip
            joined[-1] = (number, joined[-1][1], max(last, joined[-1][2]))
        else:
            joined.append((number, first, last))
    return tuple(
        Resemblance(
            source=sources[number].name,
            from_s=float(sources[number].times_s[first]),
            to_s=float(sources[number].stops_s()[last]),
        )
        for number, first, last in joined
    )


def _as_shot(placer: Placer, placed: Placed) -> Shot:
    film, source = placer.film, placer.sources[placed.source]
    frames, line = placed.frames, placed.line
    times = film.times_s[frames.start : frames.stop]
    source_frames = source.frames_at(line.at_s + line.speed * times)
    source_frames.setflags(write=False)
    spread = max(0.0, line.room_s / source.step_s - 1.0) / 2
    return Shot(
        frames=frames,
        start_s=float(times[0]),
        stop_s=float(film.stops_s[frames.stop - 1]),
        kind="placed",
        why=f"{source.name} from {source.times_s[source_frames[0]]:.2f} s",
        source=source.name,
        source_frames=source_frames,
        speed=line.speed,
        doubt_frames=spread,
        framing=placed.framing,
        also=placed.also,
    )
