"""A closer look: pictures of the film held against those of a source around a supposed place.

What is compared is detail, block by block: gain and level do not matter to it, a logo spoils no
more than its blocks, and two pictures of the same scene at other times share what stands still
and nothing else.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.edit.framing import canonical_size
from overlay.audit.edit.sources import Source
from sync.clock import Span
from sync.media import frame_times, small_frames

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Pictures = NDArray[np.float32]

BLOCKS = 8
"""Blocks across and down."""

DETAIL_PX = 3.0
"""Detail is what a Gaussian of this deviation takes away."""

FLOOR_CODES = 0.7
"""Detail weaker than this is what encoders leave of it."""

MOVES = 0.1
"""A block moves when this share of its detail's power is not in the mean of the pictures around."""

LEAST_SEEN = 0.6
"""A block of which less is seen is left out."""

LEAST_MOVING = 4
AGREES = 0.4
"""Correlation of what moves in a block, in the median of those, with the picture that is the same;
of other pictures it is about 0. Measured on the demo's footage and on simulated seas, after two
encodings: 0.73 to 0.99 at the place, seldom above 0.4 in the same scene at another time."""

DOUBT_SIGMA = 2.5
MOST_MORE = 150
"""So many frames more than are asked for are decoded at once."""

KEPT_PICTURES = 10_000
"""90 MB of small pictures."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sighting:
    """What a closer look found.

    Parameters
    ----------
    agree : [shape=(k,)]
        Correlation of what moves, in the median of the blocks in which something does, with the
        best picture for each of the film's.
    first, last : [shape=(k,)]
        The source's frames that fit no worse than the best one, from and to.
    best : [shape=(k,)]
    gain : [shape=(k,)]
        How much of the source's movement is in the film: in a fade less and less.
    whole
        Mean correlation of all blocks, what stands still too: it tells a clip from the same
        recording without instruments.
    moving
        How many blocks move.
    """

    agree: NDArray[np.float64]
    first: NDArray[np.int64]
    last: NDArray[np.int64]
    best: NDArray[np.int64]
    gain: NDArray[np.float64]
    whole: float
    moving: int

    @property
    def still(self) -> bool:
        """Whether too little moves to say when it was."""
        return self.moving < LEAST_MOVING

    @property
    def agrees(self) -> bool:
        """Whether it is the same scene at the same moment."""
        return not self.still and float(np.quantile(self.agree, 0.2)) >= AGREES


@dataclass(slots=True)
class SourcePictures:
    """Pictures of sources in canonical size, decoded when they are asked for and kept a while.

    A decoder begins at a key frame, and what it comes by is kept too.
    """

    sources: Sequence[Source]
    _kept: OrderedDict[tuple[int, int], NDArray[np.uint8]] = field(default_factory=OrderedDict)
    _keys: dict[int, NDArray[np.int64]] = field(default_factory=dict)

    def get(self, number: int, frames: range) -> Pictures:
        """Frames of one source [shape=(n, height, width)]."""
        missing = [n for n in frames if (number, n) not in self._kept]
        if missing:
            self._decode(number, range(missing[0], missing[-1] + 1))
        out = np.stack([self._kept[number, n] for n in frames]).astype(np.float32)
        for n in frames:
            self._kept.move_to_end((number, n))
        while len(self._kept) > KEPT_PICTURES:
            self._kept.popitem(last=False)
        return out

    def _decode(self, number: int, frames: range) -> None:
        import cv2

        source = self.sources[number]
        assert source.film is not None
        size = canonical_size(source.size_px)
        times = source.times_s
        frames = range(self._key_before(number, frames.start), self._group_end(number, frames.stop))
        half = source.step_s / 4
        span = Span(start_s=times[frames[0]] - half, stop_s=times[frames[-1]] + half)
        shown = small_frames(source.film, span=span, long_px=max(size))
        for n, frame in zip(frames, shown, strict=True):
            picture = frame.luma
            if picture.shape != size[::-1]:
                picture = np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA),
                                     np.uint8)  # fmt: skip
            self._kept[number, n] = picture

    def _keys_of(self, number: int) -> NDArray[np.int64]:
        film = self.sources[number].film
        assert film is not None
        if number not in self._keys:
            self._keys[number] = np.flatnonzero(frame_times(film).key)
        return self._keys[number]

    def _key_before(self, number: int, frame: int) -> int:
        """The last key frame at or before a frame."""
        keys = self._keys_of(number)
        at = int(np.searchsorted(keys, frame, side="right")) - 1
        return int(keys[at]) if at >= 0 else 0

    def _group_end(self, number: int, stop: int) -> int:
        """The next key frame, unless it is far: other pieces of a group will be asked for, and
        each would be decoded from its beginning on."""
        keys = self._keys_of(number)
        at = int(np.searchsorted(keys, stop))
        end = int(keys[at]) if at < len(keys) else len(self.sources[number].times_s)
        return min(end, stop + MOST_MORE)


def look(film: Pictures, seen: NDArray[np.bool_], source: Pictures, frames: range) -> Sighting:
    """Hold some pictures of the film against all of a stretch of a source.

    Parameters
    ----------
    film : [shape=(k, height, width)]
        As the source would have them.
    seen : [shape=(height, width)]
        Where they show the source.
    source : [shape=(n, height, width)]
    frames
        The numbers of these.
    """
    mine, its = _details(film, seen), _details(source, seen)
    stands = its.mean(axis=0)
    usable = _by_block(seen[None].astype(np.float32))[0] > LEAST_SEEN
    power = np.median(_by_block(np.square(its)), axis=0)
    strong = usable & (power > FLOOR_CODES**2)
    moves = strong & (
        np.median(_by_block(np.square(its - stands)), axis=0)
        > np.maximum(MOVES * power, FLOOR_CODES**2)
    )
    moving = np.zeros((len(mine), len(its), 1))
    rows, gain = np.arange(len(mine)), np.zeros(len(mine))
    ours, theirs = _without(mine, stands), _without(its, stands)
    if moves.any():
        moving = np.stack([_correlation(one, theirs)[:, moves] for one in ours[:, None]])
    best = moving.mean(axis=2).argmax(axis=1)
    first, last = _doubt(moving, best)
    if moves.any():
        shares = _by_block(ours * theirs[best]) / (_by_block(np.square(theirs[best])) + 1e-6)
        gain = np.median(shares[:, moves], axis=1)
    whole = np.stack([_correlation(mine[k : k + 1], its[best[k]][None])[0] for k in rows])
    return Sighting(
        agree=np.median(moving[rows, best], axis=1),
        first=frames.start + first,
        last=frames.start + last,
        best=frames.start + best,
        gain=gain,
        whole=float(whole[:, strong].mean()) if strong.any() else 0.0,
        moving=int(moves.sum()),
    )


def _without(pictures: Pictures, stands: Pictures) -> Pictures:
    """What pictures show, block by block, that a standing picture does not, at whatever gain."""
    rows, columns = stands.shape[0] // BLOCKS, stands.shape[1] // BLOCKS
    share = _by_block(pictures * stands) / np.maximum(_by_block(np.square(stands)[None]), 1e-6)
    grid = share.reshape(-1, BLOCKS, BLOCKS).astype(np.float32)
    gain = np.repeat(np.repeat(grid, rows, axis=1), columns, axis=2)
    inside = (slice(None), slice(0, rows * BLOCKS), slice(0, columns * BLOCKS))
    left = np.zeros_like(pictures)
    left[inside] = pictures[inside] - gain * stands[inside[1:]]
    return left


def _details(pictures: Pictures, seen: NDArray[np.bool_]) -> Pictures:
    """What is seen less its surroundings, as far as they are seen; nothing elsewhere."""
    import cv2

    if seen.all():
        return np.stack([one - cv2.GaussianBlur(one, (0, 0), DETAIL_PX) for one in pictures])
    weight = seen.astype(np.float32)
    around = np.maximum(cv2.GaussianBlur(weight, (0, 0), DETAIL_PX), 1e-3)
    return np.stack(
        [
            (one - cv2.GaussianBlur(one * weight, (0, 0), DETAIL_PX) / around) * weight
            for one in pictures
        ]
    )


def _by_block(values: Pictures) -> NDArray[np.float64]:
    """Means over blocks [shape=(n, 64)]; what is left at the right and lower edge is left out."""
    count, high, wide = values.shape
    rows, columns = high // BLOCKS, wide // BLOCKS
    inside = values[:, : rows * BLOCKS, : columns * BLOCKS]
    blocks = inside.reshape(count, BLOCKS, rows, BLOCKS, columns).mean(axis=(2, 4))
    return np.asarray(blocks.reshape(count, BLOCKS * BLOCKS), np.float64)


def _correlation(one: Pictures, others: Pictures) -> NDArray[np.float64]:
    """Of detail, by block [shape=(n, 64)]."""
    cross = _by_block(one * others)
    power = _by_block(np.square(one)) * _by_block(np.square(others))
    return cross / np.sqrt(np.maximum(power, FLOOR_CODES**4))


def _doubt(
    moving: NDArray[np.float64], best: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """From which to which picture the fit is no worse than the best, by what blocks scatter."""
    first, last = best.copy(), best.copy()
    count = moving.shape[2]
    for k, top in enumerate(best):
        worse = moving[k, top][None] - moving[k]
        error = worse.std(axis=1) / np.sqrt(count) + 1e-3
        close = worse.mean(axis=1) < DOUBT_SIGMA * error
        while first[k] > 0 and close[first[k] - 1]:
            first[k] -= 1
        while last[k] < moving.shape[1] - 1 and close[last[k] + 1]:
            last[k] += 1
    return first, last
