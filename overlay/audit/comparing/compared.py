"""What picture, ledger and logs have of one thing, frame by frame."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from overlay.ledger import Layout, Lettered, Pointer

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Texts = NDArray[np.object_]
"""Texts, or None where that side has nothing to say."""

EDGE_S = 1e-6
"""An instant this near to that at which something comes in may be on either side of it: UTC as
float64 seconds is good to 2e-7 s."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frames:
    """The frames of a piece of film that show a render [each shape=(n,)].

    Parameters
    ----------
    number
        Of each frame in the film, rising.
    t_film_s
        When it stands in the film.
    ledger_frame
        Which frame of the render it shows.
    render_t_utc_s
        What instant each frame of the render is, as its ledger has it [shape=(m,)].
    slack
        By how many frames of the render all of them may be off.
    """

    number: NDArray[np.int64]
    t_film_s: Floats
    ledger_frame: NDArray[np.int64]
    render_t_utc_s: Floats
    slack: int = 0

    @property
    def t_utc_s(self) -> Floats:
        """What instant each frame shows, as the ledger has it."""
        return self.render_t_utc_s[self.ledger_frame]

    def near(self, rows: NDArray[np.intp]) -> list[NDArray[np.int64]]:
        """For some of them the frame of the render that each shows, and those that it may show as
        well, for `slack` is not nought."""
        last = self.render_t_utc_s.size - 1
        shifts = sorted(range(-self.slack, self.slack + 1), key=abs)
        return [np.clip(self.ledger_frame[rows] + shift, 0, last) for shift in shifts]

    def rows(self, numbers: Any) -> NDArray[np.intp]:
        """Where frames of the film stand in these arrays; they must be there."""
        return np.searchsorted(self.number, np.asarray(numbers, np.int64))

    def utc_of(self, t_film_s: float) -> float:
        """The instant of a time in the film, by the frame that is shown then."""
        at = int(np.searchsorted(self.t_film_s, t_film_s + EDGE_S, side="right")) - 1
        return float(self.t_utc_s[min(max(at, 0), self.t_utc_s.size - 1)])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Compared:
    """One thing on the frames that were looked at while it was to be seen.

    Parameters
    ----------
    frames, t_film_s, t_utc_s : [shape=(n,)]
        Which frames these are, in order.
    read, ledger, logs : [shape=(n,)]
        What each has, as text; None where it could not be read, or there is nothing to hold it
        against. Of the logs the likelier of two neighbours.
    wrong : [shape=(n, 3)]
        Which of `PAIRS` disagree.
    characters, unread : [shape=(n,)]
        How many characters were to be seen, and how many of them could not be told.
    boxes_px : [shape=(n, 4)]
        Where it stands on the render's picture.
    why_unheld
        Why it was not held against the logs, as a clause; empty where it was.
    """

    sort: Literal["number", "label", "pointer"]
    instrument: str
    item: str
    frames: NDArray[np.int64]
    t_film_s: Floats
    t_utc_s: Floats
    read: Texts
    ledger: Texts
    logs: Texts
    wrong: Flags
    characters: NDArray[np.int64]
    unread: NDArray[np.int64]
    boxes_px: NDArray[np.int64]
    why_unheld: str = ""

    @property
    def states(self) -> Texts:
        """Of each frame: `disagrees`, `unread`, `unheld` or `agrees`. A label is held against the
        logs where it is a unit; the others are the ledger's own words."""
        blind = np.array([one is None for one in self.read], np.bool_)
        loose = np.array([one is None for one in self.logs], np.bool_) & (self.sort != "label")
        states = np.where(loose, "unheld", "agrees").astype(object)
        states[blind] = "unread"
        states[self.wrong.any(axis=1)] = "disagrees"
        return states


def to_be_seen(place: Lettered | Pointer, layout: Layout, t_utc_s: Floats) -> Flags:
    """Whether something is to be seen at instants; half-open, as the layout has it."""
    since, until = layout.shown_utc_s
    since = max(since, -math.inf if place.from_utc_s is None else place.from_utc_s)
    until = min(until, math.inf if place.to_utc_s is None else place.to_utc_s)
    seen: Flags = (t_utc_s >= since - EDGE_S) & (t_utc_s < until - EDGE_S)
    return seen
