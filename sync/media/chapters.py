"""Which files of a folder are one recording that the camera cut.

Four things speak for it: names that differ in one counter which goes up by one; the same
picture and sound; stamps that meet; and sound that goes on across the cut. Names and make must
agree and no stamp may be against it. The sound then decides where it can: either the encoder
was at work already when the second file begins, or the engine's note goes on in phase. Where
it cannot tell, the stamps must meet within a second or so.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sync.errors import FootageError
from sync.media.continuity import BODY_S, goes_on
from sync.media.fit import difference
from sync.media.footage import Footage
from sync.media.sound import load_sound
from sync.media.sound_ends import begins_in_mid_stream

STAMP_S = 2.5
"""Stamps count whole seconds, and cameras are a second or so late with them."""

SAME_RATE = 0.02
"""Average frame rates, as headers have them, nearer than this may be one."""

_NUMBERS = re.compile(r"(\d+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What speaks for and against two files being one recording; None where nothing is known.

    Parameters
    ----------
    counted, alike
        Whether the names go up by one, and the headers agree.
    stamps
        Whether the second's stamp lies where the first's leads to expect it.
    sound
        Whether the sound goes on.
    """

    counted: bool
    alike: bool
    stamps: bool | None
    sound: bool | None

    @property
    def one_recording(self) -> bool:
        """Whether the two are taken for one recording."""
        if not (self.counted and self.alike) or self.stamps is False:
            return False
        return bool(self.stamps) if self.sound is None else self.sound


def grouped(films: Sequence[Footage]) -> tuple[tuple[Footage, ...], ...]:
    """Films in groups of one recording each; the order of the first of each is kept."""
    following = {
        one: other
        for one, other in _counted_pairs(films)
        if evidence(films[one], films[other]).one_recording
    }
    later = set(following.values())
    groups = []
    for first in range(len(films)):
        if first in later:
            continue
        row = [first]
        while row[-1] in following:
            row.append(following[row[-1]])
        groups.append(tuple(films[n] for n in row))
    return tuple(groups)


def looks_cut(films: Sequence[Footage]) -> tuple[str, ...]:
    """Remarks on films, each listed as a recording of its own, that look like one recording."""
    remarks = []
    for one, other in _counted_pairs(films):
        first, second = films[one], films[other]
        found = evidence(first, second)
        names = f"{first.paths[-1].name} and {second.path.name}"
        if found.one_recording:
            why = "the sound goes on across the cut" if found.sound else "the stamps meet"
            remarks.append(
                f"{names} look like one recording that the camera cut, for {why}: list both "
                "under the `files` of one recording, and one tie holds for both"
            )
        elif found.counted and found.alike and found.stamps and found.sound is False:
            remarks.append(
                f"{names} follow on each other by name and stamp, but the sound does not go on: "
                "something is missing between them"
            )
    return tuple(remarks)


def _counted_pairs(films: Sequence[Footage]) -> Iterable[tuple[int, int]]:
    """Pairs of films of which the second's name is the first's, counted on."""
    for one, first in enumerate(films):
        last = first.paths[-1]
        for other, second in enumerate(films):
            path = second.path
            if one != other and last.parent == path.parent and counted_on(last.name, path.name):
                yield one, other
                break


def counted_on(one: str, other: str) -> bool:
    """Whether two names differ in one number alone, by one."""
    a, b = _NUMBERS.split(one), _NUMBERS.split(other)
    if len(a) != len(b):
        return False
    differing = [n for n, (x, y) in enumerate(zip(a, b, strict=True)) if x != y]
    if len(differing) != 1 or differing[0] % 2 == 0:
        return False
    x, y = a[differing[0]], b[differing[0]]
    padded = x.startswith("0") or y.startswith("0")
    return int(y) == int(x) + 1 and (len(x) == len(y) or not padded)


def evidence(one: Footage, other: Footage) -> Evidence:
    """What two files' names, headers, stamps and sound say of their being one recording."""
    counted = counted_on(one.paths[-1].name, other.path.name)
    alike = difference(one, other) is None and _same_rate(one, other)
    stamps = _stamps_meet(one, other)
    listen = counted and alike and stamps is not False
    return Evidence(
        counted=counted,
        alike=alike,
        stamps=stamps,
        sound=_sound_goes_on(one, other) if listen else None,
    )


def _same_rate(one: Footage, other: Footage) -> bool:
    a, b = one.average_rate_hz, other.average_rate_hz
    return a is None or b is None or abs(float(a / b) - 1) <= SAME_RATE


def _stamps_meet(one: Footage, other: Footage) -> bool | None:
    """Whether the second stamp is where it should be: the first's length after the first, or
    the second's where stamps are those of the end, or the same where both are the recording's.

    None where a file has none.
    """
    if one.created is None or other.created is None or not one.duration_s:
        return None
    step_s = (other.created - one.created).total_seconds()
    if step_s == 0:
        return True
    return any(
        abs(step_s - length) <= STAMP_S for length in (one.duration_s, other.duration_s or 0)
    )


def _sound_goes_on(one: Footage, other: Footage) -> bool | None:
    if not one.sound or not other.sound:
        return None
    if begins_in_mid_stream(other, 0):
        return True
    end_s = one.duration_s or 0.0
    try:
        before = load_sound(one, start_s=max(0.0, end_s - 2 * BODY_S))
        after = load_sound(other, stop_s=2 * BODY_S)
    except FootageError:
        return None
    last = round((end_s - before.start_s) * before.rate_hz)
    return goes_on(
        before.samples[:last].astype(np.float64),
        after.samples.astype(np.float64),
        before.rate_hz,
    )


def suspected_slow(films: Sequence[Footage]) -> tuple[str, ...]:
    """Remarks on films that may be in slow motion without anybody having said so.

    A file rarely says so itself. What can be seen: a stamp of the next file that comes before
    this one can have ended, and a film without sound among others of the same camera.
    """
    with_sound = [film for film in films if film.sound]
    remarks = [
        f"{film.path.name} has no sound, and others of the same camera have: if it was shot in "
        "slow motion, say so by `slow_motion`"
        for film in films
        if not film.sound and any(_one_camera(film, other) for other in with_sound)
    ]
    for one, other in pairwise(sorted(films, key=lambda film: film.path.name)):
        factor = _overlap(one, other)
        if factor is not None:
            remarks.append(
                f"{one.path.name} plays for {one.duration_s:.0f} s, and {other.path.name} begins "
                f"by its stamp {one.duration_s / factor if one.duration_s else 0:.0f} s after it: "
                f"if it was shot in slow motion, it plays at least {factor:.1f} times slower than "
                "life; say so by `slow_motion`"
            )
    return tuple(remarks)


def _one_camera(one: Footage, other: Footage) -> bool:
    """Whether two films may be of one camera, by all but their size and sound."""
    same = (one.container, one.codec) == (other.container, other.codec)
    patterns = [_NUMBERS.sub("#", film.path.stem) for film in (one, other)]
    return same and one.path.parent == other.path.parent and patterns[0] == patterns[1]


def _overlap(one: Footage, other: Footage) -> float | None:
    """How much longer a film lasts than the time until the next of the same camera began."""
    if not _one_camera(one, other) or one.created is None or other.created is None:
        return None
    step_s = (other.created - one.created).total_seconds()
    length_s = one.duration_s or 0.0
    stamps_of_ends = abs(step_s - (other.duration_s or 0.0)) <= STAMP_S
    if step_s <= 0 or stamps_of_ends or step_s + STAMP_S >= length_s / 1.5:
        return None
    return length_s / step_s
