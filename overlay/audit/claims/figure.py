"""One figure of a trial, as claims are held against it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from overlay.audit.claims.measures import BY_NAME, Favour, Measure

SpanS = tuple[float, float]
"""Start and stop in UTC seconds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure of a trial.

    Parameters
    ----------
    run
        What it is of: `launch 1`, `step 3`; empty for the trial as a whole.
    runs_too
        What else people call that run.
    measure
        What it measures.
    label
        What the measure's name goes on with, such as `30 mph`.
    value, sd
        In SI with one standard deviation; NaN where either is not known.
    spans
        From when to when in the logs, in UTC seconds.
    remark
        What must be known beside it, as a clause; or nothing.
    stated
        Whether it stands in the sheet and is no measurement, so that it has no deviation.
    of
        Run and measure of the figure that this one repeats for the trial as a whole; or None.
    """

    run: str
    measure: Measure
    value: float
    sd: float
    spans: tuple[SpanS, ...] = ()
    runs_too: tuple[str, ...] = ()
    label: str = ""
    remark: str = ""
    stated: bool = False
    of: tuple[str, str] | None = None

    @property
    def what(self) -> str:
        """The measure with what it goes on with: `time to 30 mph`."""
        return f"{self.measure.name} {self.label}".strip()

    @property
    def name(self) -> str:
        """The one name that reports have: `launch 1: time to 30 mph`."""
        return f"{self.run}: {self.what}" if self.run else self.what

    @property
    def root(self) -> tuple[str, str]:
        """Run and measure of what it repeats, or its own."""
        return self.of or (self.run, self.measure.name)

    @property
    def identity(self) -> str:
        """One name for all names of one result: that of the step whose speed is the top speed."""
        return ": ".join(self.of) if self.of else self.name

    @property
    def favour(self) -> Favour:
        """Which way flatters the boat."""
        return self.measure.favour

    def turned_over(self) -> Figure:
        """Economy as fuel per distance."""
        known = math.isfinite(self.value) and self.value > 0
        value = 1 / self.value if known else math.nan
        sd = self.sd * value * value if known else math.nan
        measure = BY_NAME["fuel per distance"]
        return replace(self, measure=measure, value=value, sd=sd, of=self.root)
