"""A channel as its log has it: samples with the lines that they stand on."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from overlay.audit.recompute.kinds import Kind, kind_of

Floats = NDArray[np.float64]
Places = NDArray[np.int64]
Flags = NDArray[np.bool_]

SAME_S = 1e-6
"""Two instants nearer than this are the same (printed: four times the step of a float64 of UTC)."""

GAP_PERIODS, LEAST_GAP_S = 3, 0.5
"""A gap is a hole from three sample periods on, and never below half a second (printed)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recorded:
    """The samples of one channel that hold a value.

    Parameters
    ----------
    key
        Name and instance, as sheets and faceplates write it.
    t_s
        On the log's own clock, or on UTC with the delay taken out, once `clock.timely` was here.
    values
        In SI.
    lines
        The line of the file, or the row of a table without lines, that each sample stands on.
    printed, worth_si
        The values as the file has them, in its own unit, and what one of that is in SI: what a
        last digit is worth is read off these.
    means
        `doppler`, `measured` or `differenced`.
    late_sd_s
        One standard deviation of what is not known of its delay.
    period_s, longest_gap_s
        Median time between samples, and the longest gap that is no hole, both on the log's clock.
    """

    key: str
    log: str
    path: Path
    t_s: Floats
    values: Floats
    lines: Places
    printed: Floats
    worth_si: float
    means: str = "measured"
    late_sd_s: float = 0.0
    period_s: float = float("nan")
    longest_gap_s: float = LEAST_GAP_S

    @property
    def name(self) -> str:
        """The channel's name without its instance."""
        return self.key.partition(".")[0]

    @property
    def kind(self) -> Kind:
        """What it measures."""
        return kind_of(self.key)

    def within(self, start_s: float, stop_s: float) -> Recorded:
        """The samples of a half-open stretch."""
        keep = (self.t_s >= start_s) & (self.t_s < stop_s)
        return replace(
            self,
            t_s=self.t_s[keep],
            values=self.values[keep],
            lines=self.lines[keep],
            printed=self.printed[keep],
        )

    def mean(self, start_s: float, stop_s: float) -> float:
        """Mean of the samples of a half-open stretch; NaN where there is none."""
        part = self.values[(self.t_s >= start_s) & (self.t_s < stop_s)]
        return float(np.mean(part)) if part.size else float("nan")


def recorded(
    *,
    key: str,
    log: str,
    path: Path,
    t_s: Floats,
    values: Floats,
    lines: Places,
    printed: Floats,
    worth_si: float,
    means: str = "measured",
) -> Recorded | None:
    """A channel of what a file holds: what cannot be is left out, and of equal times the first is
    taken. None where no sample is left."""
    kind = kind_of(key)
    with np.errstate(invalid="ignore"):
        good = np.isfinite(t_s) & np.isfinite(values)
        good &= (values >= kind.low) & (values <= kind.high)
    rows = np.flatnonzero(good)
    rows = rows[np.argsort(t_s[rows], kind="stable")]
    rows = rows[np.diff(t_s[rows], prepend=-np.inf) > 0]
    if rows.size == 0:
        return None
    steps = np.diff(t_s[rows])
    period = float(np.median(steps)) if steps.size else float("nan")
    turned = np.mod(values[rows], 2 * np.pi) if kind.turns else values[rows]
    return Recorded(
        key=key,
        log=log,
        path=path,
        t_s=t_s[rows],
        values=turned,
        lines=lines[rows],
        printed=printed[rows],
        worth_si=worth_si,
        means=means,
        period_s=period,
        longest_gap_s=max(GAP_PERIODS * period, LEAST_GAP_S) if steps.size else LEAST_GAP_S,
    )
