"""The way along which a pointer moves, and the colours of a picture on it.

A path is looked at from a little before its low end to a little behind its high end, every half
pixel, and across its whole reach; what counts is the mean across.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from overlay.audit.reading.placing import Placement
from overlay.audit.reading.products import Floats
from overlay.audit.reading.turning import Planes
from overlay.ledger import Pointer

if TYPE_CHECKING:
    from numpy.typing import NDArray

STEP_PX, MOST_PLACES = 0.5, 1000
"""Between two places along a path, unless there were more than so many."""

BEYOND_PX = MappingProxyType({"middle": 10.0, "ends": 4.0, "begins": 4.0})
"""How far a path is looked at beyond its ends, by what stands at a value: half a mark stands there
when it is at an end."""

ACROSS = (3, 9)
"""Places across a path, at least and at most; in between one for every pixel and a half."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """Where a picture is looked at for one pointer.

    Parameters
    ----------
    x, y : [shape=(across, along), px]
        On the layout's picture, from its left and upper edge.
    weights : [shape=(across,)]
        How much each way along counts; on an arc the outer ones tell an angle better.
    share : [shape=(along,)]
        How far along the scale each place is, 0 to 1 from its low to its high end.
    step_px
        Between places, in pixels of the layout, of an arc where it is looked at.
    """

    x: Floats
    y: Floats
    weights: Floats
    share: NDArray[np.float64]
    step_px: float

    @property
    def length_px(self) -> float:
        """From the low to the high end."""
        return self.step_px * (len(self.share) - 1) / float(self.share[-1] - self.share[0])

    def share_at(self, place: float) -> float:
        """How far along the scale something between two places is; places are evenly apart."""
        first, last = float(self.share[0]), float(self.share[-1])
        return first + (last - first) * place / (len(self.share) - 1)


def path_of(pointer: Pointer) -> Path:
    """The way of one pointer."""
    return _arc(pointer) if pointer.path == "arc" else _line(pointer)


def _line(pointer: Pointer) -> Path:
    (x0, y0), (x1, y1) = pointer.ends_px
    length = math.hypot(x1 - x0, y1 - y0)
    beyond = BEYOND_PX[pointer.mark]
    step_px = max(STEP_PX, length / MOST_PLACES)
    along = np.arange(-beyond, length + beyond + step_px / 2, step_px)
    low, high = pointer.reach_px
    inset = min(0.5, (high - low) / 4)
    across = np.linspace(low + inset, high - inset, _places_across(pointer))
    dx, dy = (x1 - x0) / length, (y1 - y0) / length
    # Seen when going along, the right-hand side of a picture whose rows count downwards.
    x = x0 + along[None, :] * dx - across[:, None] * dy
    y = y0 + along[None, :] * dy + across[:, None] * dx
    return Path(
        x=x.astype(np.float32), y=y.astype(np.float32),
        weights=np.full(len(across), 1 / len(across), np.float32),
        share=along / length,
        step_px=step_px,
    )  # fmt: skip


def _arc(pointer: Pointer) -> Path:
    begin, end = pointer.angles_rad
    radii = np.linspace(*pointer.reach_px, _places_across(pointer))
    weights = radii**2 / np.sum(radii**2)
    radius = float(np.sum(weights * radii))
    sweep = end - begin
    beyond = BEYOND_PX[pointer.mark] / radius / abs(sweep)
    step = STEP_PX / radius / abs(sweep)
    share = np.arange(-beyond, 1 + beyond + step / 2, step)
    angle = begin + share * sweep
    centre_x, centre_y = pointer.ends_px[0]
    return Path(
        x=(centre_x + radii[:, None] * np.sin(angle)[None, :]).astype(np.float32),
        y=(centre_y - radii[:, None] * np.cos(angle)[None, :]).astype(np.float32),
        weights=weights.astype(np.float32),
        share=share,
        step_px=STEP_PX,
    )


def _places_across(pointer: Pointer) -> int:
    low, high = pointer.reach_px
    return int(np.clip(math.ceil((high - low) / 1.5), *ACROSS))


class Looker:
    """Looks along a path on pictures of one size.

    Parameters
    ----------
    planes
        Those of the first picture: their sizes say how chroma is shared.
    """

    def __init__(self, path: Path, place: Placement, planes: Planes) -> None:
        self.path = path
        rows, columns = planes[0].shape
        x = place.scale_x * path.x + place.left_px
        y = place.scale_y * path.y + place.top_px
        self.inside = bool(x.min() >= 0 and y.min() >= 0 and x.max() <= columns and y.max() <= rows)
        self._maps = [
            _map(x * (plane.shape[1] / columns), y * (plane.shape[0] / rows), plane.shape)
            for plane in planes[:3]
        ]

    def look(self, planes: Planes) -> Floats:
        """Mean Y, U and V at each place along [shape=(along, 3)]."""
        import cv2

        out = np.empty((len(self.path.share), 3), np.float32)
        for n, (plane, (window, maps)) in enumerate(zip(planes, self._maps, strict=True)):
            part = np.ascontiguousarray(plane[window])
            seen = cv2.remap(part, *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
            np.einsum("a,an->n", self.path.weights, seen, out=out[:, n], casting="unsafe")
        return out


def _map(
    x: Floats, y: Floats, shape: tuple[int, ...]
) -> tuple[tuple[slice, slice], tuple[Any, Any]]:
    """The window of a plane that holds some places, and the places in it as OpenCV counts them."""
    import cv2

    left, top = max(0, int(x.min()) - 2), max(0, int(y.min()) - 2)
    right, bottom = min(shape[1], int(x.max()) + 3), min(shape[0], int(y.max()) + 3)
    window = (slice(top, max(bottom, top + 1)), slice(left, max(right, left + 1)))
    # OpenCV counts from the middle of the first sample.
    at_x = (x - left - 0.5).astype(np.float32)
    at_y = (y - top - 0.5).astype(np.float32)
    # Places as whole numbers and a table of fractions, which OpenCV takes twice as fast.
    return window, cv2.convertMaps(at_x, at_y, cv2.CV_16SC2)
