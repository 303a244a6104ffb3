"""What dials and bars share: a number, its place on a scale, and that of the greatest value."""

from __future__ import annotations

import math
from abc import abstractmethod

from overlay.graphics.instruments.base import Look, Part
from overlay.graphics.instruments.bench import Held
from overlay.graphics.instruments.sketch import Numeral, Sketch
from sync.units import from_si


class Gauge(Part):
    """Number, mark and the greatest value, all from one sample.

    Its key is the text, the step of the mark and that of the greatest value, each None where
    there is none.

    Parameters
    ----------
    numeral
        Where the number stands.
    """

    by_sample = True

    def __init__(self, sketch: Sketch, numeral: Numeral) -> None:
        super().__init__(sketch)
        self._numeral = numeral
        self._held = Held(sketch.bench) if sketch.bench.options["held"] else None

    def look(self, t_utc_s: float) -> Look:
        """See `Part.look`."""
        sample = self.bench.sample(t_utc_s)
        text = self.bench.how.text(sample.value)
        held = self._held.at(t_utc_s) if self._held else math.nan
        shown = self._numeral.shown(text, sample, self.bench.how.unit)
        return Look(key=(text, self._step(sample.value), self._step(held)), shown=(shown,))

    def _step(self, value: float) -> int | None:
        """The step for a value in SI, None where there is none."""
        if not math.isfinite(value):
            return None
        return self.step(from_si(value, self.bench.how.unit, self.bench.how.quantity))

    @abstractmethod
    def step(self, shown: float) -> int:
        """Where a value in the shown unit stands, counted in the finest moves of the mark."""
