"""Where on a shot of footage a transparent render lies, if it does: tried by reading its labels."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.comparing import Frames
from overlay.audit.reading import Placement
from overlay.workflow.auditing.piece import Watched
from sync.media import frame_times

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from overlay.audit.edit import Shot
    from overlay.workflow.auditing.job import Job
    from overlay.workflow.auditing.rendered import Rendered
    from sync.media import Footage

SLACK_FRAMES = 2
"""A render of its own lies on frames of the sequence, which the recording's are not."""

LOOK_S, LOOKS = 0.5, (5, 60)
"""A shot is looked at so often, and on so many frames, to see where a render lies over it."""

LEAST_READ = 0.5
"""Share of its labels that must be read there for it to be this render and no other."""

SAME_PX = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Over:
    """A render over some frames of a shot, and how well its labels are read there.

    `rows` counts the shot's frames; `fit` is greater for what is more likely the very render.
    """

    render: Rendered
    frames: Frames
    rows: range
    place: Placement
    fit: tuple[float, ...]


def cut(over: Over, rows: range) -> Over:
    """A part of it."""
    part = slice(rows.start - over.rows.start, rows.stop - over.rows.start)
    frames = replace(
        over.frames,
        number=over.frames.number[part],
        t_film_s=over.frames.t_film_s[part],
        ledger_frame=over.frames.ledger_frame[part],
    )
    return replace(over, rows=rows, frames=frames)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Looked:
    """A shot on which renders are looked for; `t_utc_s` is what each of its frames shows."""

    film: Footage
    shot: Shot
    job: Job
    t_utc_s: NDArray[np.float64]

    def over(self, render: Rendered) -> Iterator[Over]:
        """The render over the stretch on which it can be read, in the better of its places."""
        rows = _rows_inside(render, self.t_utc_s)
        found = []
        for place in self._places(render) if len(rows) else ():
            whole = Over(
                render=render,
                frames=self._frames(render, rows),
                rows=rows,
                place=place,
                fit=(0.0,),
            )
            seen = self._where_read(whole)
            if seen is not None:
                found.append(seen)
        if found:
            yield max(found, key=lambda one: one.fit)

    def read(self, over: Over, name: str) -> Watched:
        """Everything that stands on it."""
        frames = over.frames
        t_s = frame_times(self.film).seconds()
        after = int(frames.number[-1]) + 1
        return Watched(
            name=name,
            found=self.job.read(self.film, over.render.layout, frames, name, place=over.place),
            frames=frames,
            span_s=(
                float(frames.t_film_s[0]),
                float(t_s[after]) if after < self.shot.frames.stop else self.shot.stop_s,
            ),
            place=over.place,
        )

    def _frames(self, render: Rendered, rows: range) -> Frames:
        """The frames of a shot with those of a render that come nearest."""
        numbers = np.arange(self.shot.frames.start, self.shot.frames.stop)[rows.start : rows.stop]
        own = render.t_utc_s
        step_s = float(own[1] - own[0]) if own.size > 1 else 1.0
        shown = np.rint((self.t_utc_s[rows.start : rows.stop] - own[0]) / step_s)
        return Frames(
            number=numbers.astype(np.int64),
            t_film_s=frame_times(self.film).seconds()[numbers],
            ledger_frame=np.clip(shown, 0, own.size - 1).astype(np.int64),
            render_t_utc_s=own,
            slack=SLACK_FRAMES,
        )

    def _places(self, render: Rendered) -> list[Placement]:
        """As large as the film, in its middle; and as large as the footage is in it."""
        turned = self.film.rotation_deg % 180 == 90
        size = float(self.film.width * self.film.sample_aspect), float(self.film.height)
        wide, high = reversed(size) if turned else size
        places = [_fitted(render, (0.0, 0.0, wide, high))]
        framing = self.shot.framing
        if framing is not None:
            scaled = _fitted(render, framing.box_px)
            if _apart_px(scaled, places[0], render) > SAME_PX:
                places.append(scaled)
        return places

    def _where_read(self, over: Over) -> Over | None:
        """Cut to where its labels are read; None where they are not."""
        step = max(1, round(LOOK_S * self._rate_hz()))
        most = len(over.rows) // LOOKS[0] or 1
        step = max(min(step, most), len(over.rows) // LOOKS[1], 1)
        looks = [*over.rows[::step]]
        if looks[-1] != over.rows[-1]:
            looks.append(over.rows[-1])
        read = [self._read_at(over, row) for row in looks]
        shares = np.array([share for share, _ in read])
        good = np.flatnonzero(shares >= LEAST_READ)
        if not good.size:
            return None
        first, last = int(good[0]), int(good[-1])
        start = self._edge(over, looks[first - 1] if first else None, looks[first])
        stop = self._edge(over, looks[last + 1] if last + 1 < len(looks) else None, looks[last])
        scale = abs(float(np.log(over.place.scale_x)))
        sure = float(np.median([sure for share, sure in read if share >= LEAST_READ]))
        fit = (
            round(float(np.median(shares[good])), 2),
            round(sure, 2),
            -round(abs(self._rate_hz() - 1 / self._step_of(over.render)), 2),
            -round(scale, 2),
        )
        return replace(cut(over, range(start, stop + 1)), fit=fit)

    def _edge(self, over: Over, without: int | None, with_it: int) -> int:
        """The last row with it on the way to one without."""
        if without is None:
            return with_it
        while abs(with_it - without) > 1:
            middle = (with_it + without) // 2
            if self._read_at(over, middle)[0] >= LEAST_READ:
                with_it = middle
            else:
                without = middle
        return with_it

    def _read_at(self, over: Over, row: int) -> tuple[float, float]:
        """Which share of a render's labels is read on a frame, and how surely."""
        frames = cut(over, range(row, row + 1)).frames
        return self.job.labels_read(self.film, over.render.layout, frames, over.place)

    def _rate_hz(self) -> float:
        """Frames of the film in a second."""
        t_s = frame_times(self.film).seconds()
        return float(1 / np.median(np.diff(t_s))) if t_s.size > 1 else 1.0

    @staticmethod
    def _step_of(render: Rendered) -> float:
        own = render.t_utc_s
        return float(own[1] - own[0]) if own.size > 1 else 1.0


def _rows_inside(render: Rendered, t_utc_s: NDArray[np.float64]) -> range:
    """The frames of a shot that a render has, to half a frame of its own."""
    own = render.t_utc_s
    half_s = float(own[1] - own[0]) / 2 if own.size > 1 else 0.5
    inside = np.flatnonzero((t_utc_s >= own[0] - half_s) & (t_utc_s <= own[-1] + half_s))
    return range(int(inside[0]), int(inside[-1]) + 1) if inside.size else range(0)


def _fitted(render: Rendered, room: tuple[float, float, float, float]) -> Placement:
    """A render as large as a room of the film allows, in its middle."""
    wide, high = room[2] - room[0], room[3] - room[1]
    scale = min(wide / render.layout.width_px, high / render.layout.height_px)
    return Placement(
        scale_x=scale,
        scale_y=scale,
        left_px=(room[0] + room[2] - scale * render.layout.width_px) / 2,
        top_px=(room[1] + room[3] - scale * render.layout.height_px) / 2,
    )


def _apart_px(one: Placement, other: Placement, render: Rendered) -> float:
    """By how much two places differ in a corner, either way, at most."""
    return max(
        max(
            abs((one.scale_x - other.scale_x) * x + one.left_px - other.left_px),
            abs((one.scale_y - other.scale_y) * y + one.top_px - other.top_px),
        )
        for x, y in ((0.0, 0.0), (render.layout.width_px, render.layout.height_px))
    )
