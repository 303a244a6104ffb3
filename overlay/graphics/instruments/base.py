"""What an instrument is, and what it draws with.

How to add one:

1. Write a module in this folder with two functions. `size(bench)` says how much room the
   instrument needs; `parts(bench, box)` draws what never changes on a `Sketch`, and returns
   one or more `Part`.
2. Write a `Part` with two methods. `look(t_utc_s)` says what is to be seen at an instant: a
   key that differs whenever the picture does, and the numbers with their boxes; None where
   there is nothing to be seen. It follows from the time alone, never from an earlier call.
   `paint(layer, key)` lays masks for that key over a fresh copy of the still layer.
3. Measure everything in shares of the picture's short side (`bench.px`, `bench.even`), and
   leave room for `figure.widest()` and for `NO_VALUE`.
4. End the module with `KIND`: its name, what it shows, the channels that it can show (none
   where it shows the run), and the keys that it takes in a faceplate besides the common ones.
5. Put `KIND` into `INSTRUMENTS` in `__init__.py`. The contract tests then run over it.

`readout.py` is the shortest example.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, ClassVar

from overlay.graphics.instruments.bench import Bench, Box, Size
from overlay.graphics.instruments.sketch import Sketch
from overlay.graphics.layer import WHOLE, Layer, Planes
from overlay.graphics.spec_file import Key
from overlay.ledger import Shown

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What is to be seen of a part at an instant: equal keys mean equal pictures."""

    key: Hashable
    shown: tuple[Shown, ...] = ()


class Part(ABC):
    """A rectangle of the picture that is drawn as one: a still layer and what moves on it.

    `by_sample` says that what is to be seen follows from the sample that is shown, and from
    whether the run has begun; then it is not worked out again for every frame. A part that comes
    in or goes out while the instruments are to be seen sets `from_utc_s` and `to_utc_s`.
    """

    by_sample: ClassVar[bool] = False

    def __init__(self, sketch: Sketch) -> None:
        self.bench = sketch.bench
        self.box = sketch.box
        self.texts = tuple(sketch.texts)
        self.fields = tuple(sketch.fields)
        self.pointers = tuple(sketch.pointers)
        self.from_utc_s: float | None = None
        self.to_utc_s: float | None = None
        self.repaints = 0
        self._still = sketch.layer
        self._layer = sketch.layer.copy()
        self._key: Hashable = None
        self._seen: tuple[tuple[float, bool], Look | None] | None = None

    @property
    def covers(self) -> NDArray[np.bool_]:
        """Which pixels of its box the part covers, wholly or in part."""
        return self._still.rest < WHOLE

    @abstractmethod
    def look(self, t_utc_s: float) -> Look | None:
        """What is to be seen at an instant; None for nothing."""

    @abstractmethod
    def paint(self, layer: Layer, key: Any) -> None:
        """Lay what belongs to a key over a copy of the still layer."""

    def _look_at(self, t_utc_s: float) -> Look | None:
        """`look`, or what it said last where that must be the same."""
        signal = self.bench.signal
        if not self.by_sample or signal is None:
            return self.look(t_utc_s)
        begun = t_utc_s >= self.bench.subject.run.start_utc_s
        at = (signal.shown_instant(t_utc_s), begun)
        if self._seen is None or self._seen[0] != at:
            self._seen = at, self.look(t_utc_s)
        return self._seen[1]

    def mend(self, layer: Layer, last: Any, key: Any) -> bool:
        """Make what belongs to a key of what belongs to the last one, and say whether that was
        done: the picture must be the one that `paint` makes, to the bit, at less cost."""
        del layer, last, key
        return False

    def draw(self, planes: Planes, t_utc_s: float) -> tuple[Shown, ...]:
        """Draw the part onto a frame, and say what it shows."""
        look = self._look_at(t_utc_s)
        if look is None:
            return ()
        if self.repaints == 0 or look.key != self._key:
            if self.repaints == 0 or not self.mend(self._layer, self._key, look.key):
                self._layer.become(self._still)
                self.paint(self._layer, look.key)
            self._key = look.key
            self.repaints += 1
        self._layer.blend(planes, self.box[0], self.box[1])
        return look.shown


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A sort of instrument.

    Parameters
    ----------
    name, text
        The word for it in a faceplate, and what it shows.
    channels
        The names of the channels that it can show; empty where it shows the run.
    size
        Width and height that it needs, both even.
    parts
        Its parts within a box of at least that size.
    options
        The keys that it takes in a faceplate besides the common ones.
    follows_from
        The channel that the numbers of an instrument that shows the run follow from, for the
        ledger; empty where it has no numbers.
    twin
        Whether it shows its channel of two engines, as the items `port` and `starboard`.
    """

    name: str
    text: str
    channels: tuple[str, ...]
    size: Callable[[Bench], Size]
    parts: Callable[[Bench, Box], tuple[Part, ...]]
    options: Mapping[str, Key] = field(default_factory=lambda: MappingProxyType({}))
    follows_from: str = ""
    twin: bool = False
