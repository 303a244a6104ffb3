"""A render as its ledger has it: what to read on it, when its frames are, and the logs' side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from overlay.audit.comparing import Frames, Sides
from overlay.audit.recompute import CannotRecompute, LogSide, shows_of
from overlay.audit.verdict import Disagreement
from overlay.errors import AuditError
from overlay.ledger import Layout, Ledger, read_ledger, read_prints

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rendered:
    """A render with all that its ledger has, and the logs' side of it.

    Parameters
    ----------
    pts, t_utc_s : [shape=(n,)]
        Of each of its frames the time stamp, and the instant that it shows.
    """

    ledger_path: Path
    ledger: Ledger
    layout: Layout
    pts: NDArray[np.int64]
    t_utc_s: NDArray[np.float64]
    sides: Sides

    @property
    def facts(self) -> Mapping[str, Any]:
        """What its ledger has of the whole of it."""
        return self.ledger.facts


def open_render(
    ledger_path: Path, sheet_path: Path, results: Mapping[str, Any] | None = None
) -> Rendered:
    """A render by its ledger, held against the logs of a sheet.

    Parameters
    ----------
    results
        The document of results, for what follows from runs that the clip does not show.

    Raises
    ------
    AuditError
        Where the ledger cannot be used.
    """
    try:
        ledger = read_ledger(ledger_path)
        layout = Layout.from_facts(ledger.facts["layout"])
        pts, t_utc_s = _times(ledger_path, ledger.facts)
    except KeyError as error:
        raise AuditError(
            f"this ledger has no {error}: it was written before there was an audit",
            path=ledger_path,
            advice="render it again",
        ) from error
    except (OSError, ValueError, TypeError, ArithmeticError) as error:
        raise AuditError(
            f"this is no ledger that can be read ({error})",
            path=ledger_path,
            advice="render it again",
        ) from error
    return Rendered(
        ledger_path=ledger_path,
        ledger=ledger,
        layout=layout,
        pts=pts,
        t_utc_s=t_utc_s,
        sides=_sides(ledger, sheet_path, results),
    )


def _times(
    ledger_path: Path, facts: Mapping[str, Any]
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Time stamp and UTC of all frames: of a clip as its prints have them, of a transparent render
    as they follow from its start and rate."""
    alone = facts.get("transparent")
    if alone is not None:
        count = np.arange(int(alone["frames"]), dtype=np.int64)
        rate = Fraction(alone["rate_hz"])
        t_utc_s = float(alone["start_utc_s"]) + count * float(1 / rate)
        return count, np.asarray(t_utc_s, np.float64)
    prints = read_prints(ledger_path)
    if prints is None:
        raise KeyError("prints")
    return prints.pts, np.asarray(prints.t_utc_s, np.float64)


def _sides(ledger: Ledger, sheet_path: Path, results: Mapping[str, Any] | None) -> Sides:
    try:
        side = LogSide.open(sheet_path, ledger.facts, shows_of(ledger.rows), results)
    except CannotRecompute as cause:
        return Sides(facts=ledger.facts, rows=ledger.rows, logs=None, why=cause.why)
    return Sides(facts=ledger.facts, rows=ledger.rows, logs=side)


def frames_as_rendered(
    t_film_s: NDArray[np.float64], render: Rendered, time_base: float
) -> tuple[Frames, tuple[Disagreement, ...]]:
    """The frames of a clip that is as it was rendered, and where its time stamps are not those of
    its ledger."""
    count = min(t_film_s.size, render.pts.size)
    number = np.arange(count, dtype=np.int64)
    frames = Frames(
        number=number,
        t_film_s=t_film_s[:count].astype(np.float64),
        ledger_frame=number,
        render_t_utc_s=render.t_utc_s,
    )
    if t_film_s.size != render.pts.size:
        return frames, (_count(frames, t_film_s.size, render.pts.size),)
    wanted = (render.pts - render.pts[0]) * time_base
    off = np.abs((t_film_s - t_film_s[0])[:count] - wanted[:count]) > max(time_base, 1e-3)
    wrong: list[Disagreement] = []
    if off.any():
        first = int(np.argmax(off))
        read, ledger = f"{t_film_s[first] - t_film_s[0]:.3f} s", f"{wanted[first]:.3f} s"
        wrong.append(_time(first, frames, read, ledger))
    return frames, tuple(wrong)


def _count(frames: Frames, has: int, wanted: int) -> Disagreement:
    read, ledger = (f"{count} frame{'s' * (count != 1)}" for count in (has, wanted))
    told = _time(0, frames, read, ledger)
    return replace(
        told,
        sentence=f"The clip has {read}, and its ledger {ledger}: this ledger was written with "
        "another clip.",
    )


def _time(at: int, frames: Frames, read: str, ledger: str) -> Disagreement:
    return Disagreement(
        sort="time",
        instrument="",
        item="time stamps",
        frames=(at, int(frames.number[-1])),
        t_film_s=float(frames.t_film_s[at]),
        t_utc_s=float(frames.t_utc_s[at]),
        read=read,
        ledger=ledger,
        logs=None,
        pairs=(("picture", "ledger"),),
        sentence=f"From frame {at} on the clip's time stamps are not those of its ledger: "
        f"{read} and {ledger}.",
    )
