"""The films of a folder as a crew would list them: one entry a recording, its twin beside it."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass

from sync.media.chapters import grouped
from sync.media.footage import Footage
from sync.media.twins import may_be_twin

SAME_NAME = 0.7
"""Names of twins are nearly the same: an ending, a letter or a folder differs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """The files of one recording, and their twins in small pictures: one a file, or none."""

    films: tuple[Footage, ...]
    proxies: tuple[Footage, ...] = ()

    @property
    def duration_s(self) -> float | None:
        """Length of all files by their headers; None where one does not say."""
        lengths = [film.duration_s for film in self.films]
        known = [length for length in lengths if length is not None]
        return sum(known) if len(known) == len(lengths) else None


def shots_of(films: Sequence[Footage]) -> tuple[Shot, ...]:
    """Films grouped into recordings, each with its twins where every file has one."""
    twins = _twins(films)
    small = {id(proxy) for proxy in twins.values()}
    shots = []
    for group in grouped([film for film in films if id(film) not in small]):
        proxies = [twins[id(film)] for film in group if id(film) in twins]
        whole = len(proxies) == len(group)
        shots.append(Shot(films=group, proxies=tuple(proxies) if whole else ()))
        if not whole:
            shots += [Shot(films=(proxy,)) for proxy in proxies]
    return tuple(shots)


def _twins(films: Sequence[Footage]) -> dict[int, Footage]:
    """By an original's identity, the film that is its twin: of several, the one named most like
    it; and none is the twin of two."""
    found: dict[int, Footage] = {}
    taken: set[int] = set()
    by_size = sorted(films, key=lambda film: -film.width * film.height)
    for original in by_size:
        if id(original) in taken:
            continue
        near = [
            (_likeness(original, film), film)
            for film in films
            if id(film) not in taken and film is not original and may_be_twin(original, film)
        ]
        near = [(likeness, film) for likeness, film in near if likeness >= SAME_NAME]
        if near:
            proxy = max(near, key=lambda pair: pair[0])[1]
            found[id(original)] = proxy
            taken.add(id(proxy))
    return found


def _likeness(one: Footage, other: Footage) -> float:
    """How alike two names are without their endings, from 0 to 1.

    Numbers in names count shots, so twins must have the same in both.
    """
    a, b = one.path.stem.casefold(), other.path.stem.casefold()
    digits = ["".join(c if c.isdigit() else " " for c in name).split() for name in (a, b)]
    if digits[0] != digits[1] and not (digits[0] and digits[0] == digits[1][: len(digits[0])]):
        return 0.0
    if a in b or b in a:
        return 1.0
    return difflib.SequenceMatcher(None, a, b).ratio()
