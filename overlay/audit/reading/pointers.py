"""Where a mark stands on its scale, found by its colour along its path.

Each place along a path has a colour x, between that of the plate, g, and the mark's, m::

    t = (x - g)·(m - g) / |m - g|²      like = min(t, 2 - t) - |x - g - t (m - g)| / |m - g|

so that `like` is 1 for the mark's colour, the covered share where the mark lies on its plate, and
less for whatever is as light but of another colour: a filling, a line at the greatest value,
hatching. From there on the place is that of a middle or an edge at half its height.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.reading.paths import Path
from overlay.audit.reading.products import Floats
from overlay.ledger import Layout, Pointer

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEAST_LIKE = 0.22
"""A mark is there where something comes so near to its colour. Measured, see
tests/bench/read_back.py: marks have 0.6 and more at CRF 28, other things 0.4 at most."""

MOST_BARE = 0.12
"""Below this there is no mark; in between it cannot be told."""

WEIGHTS = np.array([1.0, 0.5, 0.5], np.float32)
"""Of Y, U and V: chroma is coarser, and encoders keep less of it."""

RIVAL = 0.75
"""Something else on the path with so much of the mark's likeness is a rival: no place is told."""

STRANGE = 40.0
"""A colour that lies so far (codes of 8 bits) from every mixture of two colours of the theme
belongs to something that lies over the instrument."""

MOST_STRANGE = 0.12
"""Share of a path that may be strange."""

BASE_SD_PX = 0.4
"""Standard deviation of a place. Measured, see tests/bench/read_back.py."""

FILLED = 25.0
"""A circle is filled where half of it differs so much from its plate (codes of 8 bits)."""

LATE, CLEAN_PX = 0.86, (0.62, 0.74)
"""From half to this share of its height, a clean edge rises within the first of these distances,
and one with a line close before it within the second or more. Measured, see
tests/bench/read_back.py: 0.45 to 0.68, and 0.75 to 1.5."""

NEAR_PX, FAR_PX = 3.0, 8.0
"""Between these distances from an edge or middle lie the levels on its sides."""

END_PX = 1.0
"""The end of a filling lies no further beyond the high end."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a mark stands in the pointer's unit, NaN where there is none or it cannot be told, its
    standard deviation, and whether the path could be seen."""

    value: float
    sd: float
    legible: bool


NOWHERE = Place(float("nan"), float("nan"), legible=True)
UNSEEN = Place(float("nan"), float("nan"), legible=False)


class Finder:
    """Finds one pointer's mark.

    Parameters
    ----------
    depth
        Bits of the codes that are looked at.
    """

    def __init__(self, pointer: Pointer, path: Path, layout: Layout, depth: int) -> None:
        self._pointer = pointer
        self._path = path
        first, last = path.share[0], path.share[-1]
        whole = pointer.path == "arc" and abs(np.subtract(*pointer.angles_rad)) > 6.28
        # Places in a full turn, after which the path comes by again.
        self._circle = round((len(path.share) - 1) / (last - first)) if whole else 0
        self._to_8_bits = 2.0 ** (8 - depth)
        inks = {
            name: np.array(codes, np.float32) * 2.0 ** (8 - layout.depth)
            for name, codes in layout.inks.items()
        }
        # Footage of a middle grey below, which is what it comes to on the mean.
        through = np.array([128.0, 128.0, 128.0], np.float32)
        self._plate = layout.opacity * inks["ink"] + (1 - layout.opacity) * through
        self._mark = inks[pointer.colour]
        # What is drawn lies on a plate, on a filling or beside something light.
        light = inks.get("cream", self._mark)
        self._mixtures = [(below, ink) for below in (self._plate, light) for ink in inks.values()]
        self._mixtures = [pair for pair in self._mixtures if np.linalg.norm(pair[0] - pair[1]) > 4]

    def find(self, colours: Floats) -> list[Place]:
        """Where the mark stands in each of several pictures [shape=(n, along, 3)]."""
        codes = colours * np.float32(self._to_8_bits)
        like = _smooth(self._like(codes))
        strange = self._strange(codes)
        return [
            UNSEEN if off > MOST_STRANGE else self._place(one, row)
            for one, row, off in zip(codes, like, strange, strict=True)
        ]

    def _like(self, codes: Floats) -> Floats:
        way = (self._mark - self._plate) * WEIGHTS
        size = float(way @ way)
        from_plate = (codes - self._plate) * WEIGHTS
        t = np.einsum("nai,i->na", from_plate, way) / size
        aside = np.linalg.norm(from_plate - t[..., None] * way, axis=-1) / size**0.5
        like: Floats = np.maximum(np.minimum(t, 2 - t) - aside, 0.0).astype(np.float32)
        return like

    def _strange(self, codes: Floats) -> Floats:
        """Share of each path that has a colour of nothing that is drawn [shape=(n,)]."""
        few = codes[:, :: max(1, codes.shape[1] // 40)]
        least = np.full(few.shape[:2], np.inf, np.float32)
        for one, other in self._mixtures:
            way = other - one
            from_one = few - one
            t = np.clip(np.einsum("nai,i->na", from_one, way / (way @ way)), 0, 1)
            rest = from_one - t[..., None] * way
            np.minimum(least, np.einsum("nai,nai->na", rest, rest), out=least)
        share: Floats = np.mean(least > STRANGE**2, axis=1).astype(np.float32)
        return share

    def _on_scale(self, like: Floats) -> Floats:
        """Without what is beyond the ends of a scale that fills: footage, of whatever colour."""
        if self._pointer.mark != "ends":
            return like
        share, place = self._path.share, np.arange(len(like))
        first = int(np.searchsorted(share, 0.0)) - self._steps(NEAR_PX)
        stop = int(np.searchsorted(share, 1.0)) + self._steps(END_PX)
        return np.where((place >= first) & (place < stop), like, np.float32(0))

    def _place(self, codes: Floats, like: Floats) -> Place:
        like = self._on_scale(like)
        peak = int(like.argmax())
        if like[peak] < LEAST_LIKE:
            return NOWHERE if like[peak] < MOST_BARE else UNSEEN
        middle = self._pointer.mark == "middle"
        found = self._middle(like, peak) if middle else self._edge(codes, like, float(like[peak]))
        if found is None:
            return UNSEEN
        at, sd_px = found
        share = self._path.share_at(at)
        if self._circle:
            share = self._round(share, codes)
        span = self._pointer.high - self._pointer.low
        pixels = self._path.length_px
        value = self._pointer.low + min(1.0, max(0.0, share)) * span
        return Place(value, sd_px / pixels * abs(span), legible=True)

    def _round(self, share: float, codes: Floats) -> float:
        """A share of a full circle; where it begins and ends is one place, which is its end where
        most of the circle is filled."""
        seam = self._steps(FAR_PX) / self._circle
        share %= 1.0
        if seam < share < 1 - seam:
            return share
        filled = float(_median(np.linalg.norm(codes - self._plate, axis=1))) > FILLED
        return (share if share > 0.5 else 1.0) if filled else (share if share < 0.5 else 0.0)

    def _middle(self, like: Floats, peak: int) -> tuple[float, float] | None:
        """The middle of what stands out above its neighbours, and its standard deviation."""
        near, far = self._steps(NEAR_PX), self._steps(FAR_PX)
        top = float(like[peak])
        first, last = _reach(like, peak, 0.8 * top)
        sides = (
            like[max(0, first - far) : max(0, first - near) + 1],
            like[last + near : last + far],
        )
        base = max([float(_median(side)) for side in sides if len(side)] or [0.0])
        base = min(base, 0.9 * top)
        # What is hollow has two sides.
        near_by = np.arange(max(0, peak - 2 * far), min(len(like), peak + 2 * far + 1))
        high = near_by[like[near_by] > (top + base) / 2]
        rest = like.copy()
        rest[max(0, high[0] - far) : high[-1] + far + 1] = 0
        if self._circle:
            rest[np.abs(np.abs(np.arange(len(like)) - peak) - self._circle) <= 2 * far] = 0
        if float(rest.max()) > base + RIVAL * (top - base):
            return None
        among = np.arange(high[0], high[-1] + 1)
        weights = np.maximum(like[among] - base, 0)
        return float(np.sum(among * weights) / np.sum(weights)), BASE_SD_PX

    def _edge(self, codes: Floats, like: Floats, top: float) -> tuple[float, float] | None:
        """Where the colour begins, or where it ends, and its standard deviation; places are
        counted from the side where it is not."""
        ends = self._pointer.mark == "ends"
        if ends:
            codes, like = codes[::-1], like[::-1]
        near, far = self._steps(NEAR_PX), self._steps(FAR_PX)
        inner = int(np.argmax(like > 0.85 * top))
        first = max(0, inner - far)
        before = codes[first : max(first + 1, inner - near)]
        _, last = _reach(like, inner, 0.8 * top)
        mark = codes[inner : min(last, inner + near) + 1].mean(axis=0)
        way = mark - _median(before)
        shares = (codes[first : inner + 1] - mark) @ way / max(1e-6, float(way @ way)) + 1
        at, late = _crossing(shares, 0.5), _crossing(shares, LATE)
        if at is None or late is None:
            return None
        # A line close before the edge makes it rise in two steps, of which the second counts.
        apart_px = (late - at) * self._path.step_px
        stepped = min(1.0, max(0.0, (apart_px - CLEAN_PX[0]) / (CLEAN_PX[1] - CLEAN_PX[0])))
        place = first + at + stepped * (late - at)
        sd_px = BASE_SD_PX + stepped * apart_px / 4
        return (len(like) - 1 - place if ends else place), sd_px

    def _steps(self, pixels: float) -> int:
        return round(pixels / self._path.step_px)


def _median(values: Floats) -> Floats:
    """The median along the first axis, without what NumPy's own does for odd cases."""
    half = len(values) // 2
    ordered = np.sort(values, axis=0)
    middle: Floats = ordered[half] if len(values) % 2 else (ordered[half - 1] + ordered[half]) / 2
    return middle


def _crossing(shares: Floats, level: float) -> float | None:
    """Where a rise passes a level for the last time."""
    under = np.flatnonzero(shares < level)
    if not len(under):
        return None
    n = int(under[-1])
    if n + 1 >= len(shares):
        return float(n)
    low, high = float(shares[n]), float(shares[n + 1])
    return n + (level - low) / max(1e-6, high - low)


def _reach(like: Floats, peak: int, level: float) -> tuple[int, int]:
    """The first and the last place about a peak that are above a level all the way."""
    below: NDArray[np.intp] = np.flatnonzero(like <= level)
    before, after = below[below < peak], below[below > peak]
    first = int(before[-1]) + 1 if len(before) else 0
    last = int(after[0]) - 1 if len(after) else len(like) - 1
    return first, last


def _smooth(like: Floats) -> Floats:
    """Means of three places: what an encoder leaves of one row is uneven."""
    padded = np.pad(like, ((0, 0), (1, 1)), mode="edge")
    means: Floats = ((padded[:, :-2] + padded[:, 1:-1] + padded[:, 2:]) / 3).astype(np.float32)
    return means
