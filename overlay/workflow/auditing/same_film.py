"""Whether the pictures of a clip are those that were rendered: by the prints in its ledger."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.reading.frames import seen_frames
from overlay.audit.verdict import Disagreement
from overlay.ledger import print_of, read_prints

if TYPE_CHECKING:
    from pathlib import Path

    from overlay.audit.comparing import Frames
    from sync.media import Footage

EVERY_S = 1.0
"""So often the picture is looked at; whoever lays digits over another film does it for longer."""

OFF_CODES = 12
"""A cell of a print is off by no more codes of 8 bits, whatever an encoder does (at CRF 28 over
spray it is off by one or two)."""

MOST_CELLS = 4
"""So many of the 32 cells may be off: what a hand covers is for the readers to tell."""


def other_pictures(film: Footage, ledger_path: Path, frames: Frames) -> tuple[Disagreement, ...]:
    """Where a clip shows another picture than was rendered; of frames that are looked at one after
    another, one stretch."""
    prints = read_prints(ledger_path)
    if prints is None:
        return ()
    off: list[tuple[int, float]] = []
    runs: list[list[tuple[int, float]]] = []
    for _, _, seen in seen_frames(film, EVERY_S):
        if seen.frame >= len(prints):
            break
        cells = print_of(seen.planes[0], seen.depth).astype(np.int64)
        apart = np.abs(cells - prints.cells[seen.frame].astype(np.int64)) > OFF_CODES
        if apart.sum() > MOST_CELLS:
            off.append((seen.frame, seen.t_s))
            continue
        if off:
            runs.append(off)
        off = []
    if off:
        runs.append(off)
    return tuple(_told(run, frames) for run in runs)


def _told(run: list[tuple[int, float]], frames: Frames) -> Disagreement:
    (first, begins_s), (last, _) = run[0], run[-1]
    at = int(frames.rows([first])[0])
    return Disagreement(
        sort="picture",
        instrument="",
        item="picture",
        frames=(first, last),
        t_film_s=begins_s,
        t_utc_s=float(frames.t_utc_s[min(at, frames.t_utc_s.size - 1)]),
        read="another picture",
        ledger="the rendered one",
        logs=None,
        pairs=(("picture", "ledger"),),
        sentence=f"From {begins_s:.1f} s on (frame {first}) the picture is not the one that was "
        "rendered.",
    )
