"""The offset at the launch itself, for a camera that is not aboard.

How far it was off is known for one moment: that at which the engine speed rises fastest. What
rises and falls at other times has come a way that is known by its change only, and the longer
ago the worse; so each moving piece counts by

::

    sd² = own² + log² + (drift · |t - launch|)² + (pitch / rate of change)²

The last is what a speed of parting that is not quite right makes of it: a rise that sounds a
little higher seems to have come a little earlier, the more so the slower it rises.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sync.clues.note.fit import Fit, Piece
from sync.clues.note.search import Path, Source, path_at
from sync.clues.note.sound import Note

NEAR_S = 1.5
"""What rises this near to the steepest moment is the launch."""

LOG_SD_S = 0.008
"""What the log's noise and the curve between its values add to a piece."""

DRIFT = 0.003
"""Deviation by which the way's delay drifts a second: 1 m/s, the step in which speeds of parting
are told apart."""

PITCH = 0.007
"""By which share a moving note may be higher than the steady ones about it tell: 2 m/s, as a boat
gains speed while it launches."""

ODD_SDS = 4.0


def anchored(note: Note, source: Source, fit: Fit) -> Fit:
    """The fit with its offset and deviation at the launch, and `middle_s` the launch."""
    launch_s = steepest_s(path_at(note, source, note.t_s, fit.shift_s), note)
    moving = [p for p in fit.moving if np.isfinite(p.sd)]
    if launch_s is None or not moving:
        return fit
    sd = np.array([_sd(piece, launch_s) for piece in moving])
    off = np.array([piece.off for piece in moving])
    middle = off[int(sd.argmin())]
    kept = np.abs(off - middle) <= ODD_SDS * np.hypot(sd, sd.min())
    weight = sd[kept] ** -2.0
    mean = float(np.sum(weight * off[kept]) / weight.sum())
    odds = float(np.sum(weight * (off[kept] - mean) ** 2)) / max(int(kept.sum()) - 1, 1)
    return replace(
        fit,
        shift_s=fit.shift_s + mean,
        sd_s=float(np.sqrt(max(odds, 1.0) / weight.sum())),
        middle_s=launch_s,
    )


def _sd(piece: Piece, launch_s: float) -> float:
    drift_s, pitch_s = DRIFT * (piece.t_s - launch_s), PITCH / piece.rate
    return float(np.sqrt(piece.sd**2 + LOG_SD_S**2 + drift_s**2 + pitch_s**2))


def steepest_s(path: Path, note: Note) -> float | None:
    """When the engine speed rises fastest; None where it never does."""
    rise = np.where(path.known, np.clip(path.chirp, 0.0, None), 0.0)
    if not rise.max() > 0:
        return None
    t = note.t_s
    near = np.abs(t - t[int(rise.argmax())]) <= NEAR_S
    return float(np.sum(t[near] * rise[near] ** 2) / np.sum(rise[near] ** 2))
