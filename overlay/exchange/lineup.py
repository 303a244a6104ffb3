"""The lined-up day as a value: recordings, transparent renders and markers on one sequence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from overlay.exchange.grid import Grid
from overlay.exchange.placing import PlacedRecording
from overlay.exchange.renders import TransparentRender
from sync.clock import Span

MarkerKind = Literal["run", "mark", "result", "tie mark"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """Something that gets a marker: a run, or a pass of one, a mark, a result or a tie mark.

    Parameters
    ----------
    name
        What an editor reads on the marker.
    text
        What belongs with it; may be empty.
    start_utc_s, stop_utc_s
        When it is; an instant has no stop.
    """

    kind: MarkerKind
    name: str
    text: str
    start_utc_s: float
    stop_utc_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSpan:
    """A run that a cut list has, by its name."""

    name: str
    span: Span


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacedRender:
    """A transparent render on the sequence, and in which layer: 0 lies lowest.

    One that is not `live` is another form of what a live one shows, and only kept ready.
    """

    render: TransparentRender
    start: int
    frames: int
    off_s: float
    layer: int
    live: bool = True

    @property
    def stop(self) -> int:
        """The first frame of the sequence after it."""
        return self.start + self.frames


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lineup:
    """The whole day on one sequence.

    `left_out` has the recordings that could not be placed, each with the reason, `of_other_days`
    the marks and renders that lie more than a day from all of them.
    """

    trial: str
    grid: Grid
    recordings: tuple[PlacedRecording, ...]
    renders: tuple[PlacedRender, ...]
    notes: tuple[Noted, ...]
    runs: tuple[RunSpan, ...]
    left_out: tuple[tuple[str, str], ...]
    of_other_days: tuple[str, ...] = ()

    @property
    def frames(self) -> int:
        """How many frames of the sequence hold anything."""
        ends = [one.stop for one in self.recordings] + [one.stop for one in self.renders]
        ends += [
            self.grid.frame_at(one.start_utc_s if one.stop_utc_s is None else one.stop_utc_s) + 1
            for one in self.notes
        ]
        return max(ends)


def place_renders(
    live: Sequence[TransparentRender], grid: Grid, spare: Sequence[TransparentRender] = ()
) -> tuple[PlacedRender, ...]:
    """Lay transparent renders on the sequence; those that meet lie in layers of their own, and
    spare ones above all that are live."""
    laid = _layered(live, grid, 0, live=True)
    above = 1 + max((one.layer for one in laid), default=-1)
    return (*laid, *_layered(spare, grid, above, live=False))


def _layered(
    renders: Sequence[TransparentRender], grid: Grid, lowest: int, *, live: bool
) -> tuple[PlacedRender, ...]:
    placed: list[PlacedRender] = []
    ends: list[int] = []
    for render in sorted(renders, key=lambda one: (one.start_utc_s, one.stem)):
        start = grid.nearest(render.start_utc_s)
        lasts = render.frames * grid.rate.rate_hz / render.rate_hz
        frames = max(1, lasts.numerator // lasts.denominator)
        layer = next((n for n, end in enumerate(ends) if end <= start), len(ends))
        ends[layer : layer + 1] = [start + frames]
        at_s = grid.zero_utc_s + start / grid.rate.rate_hz
        placed.append(
            PlacedRender(
                render=render,
                start=start,
                frames=frames,
                off_s=float(at_s - Fraction(render.start_utc_s)),
                layer=lowest + layer,
                live=live,
            )
        )
    return tuple(placed)
