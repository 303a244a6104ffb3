"""The time line of agreement: a strip for each thing on the picture, over the film's time.

States differ in shape as well as in colour, for pages that are printed in black and white, and a
disagreement of one frame is as wide as the eye needs.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from itertools import groupby, pairwise

from overlay.audit.verdict import Piece, State
from overlay.report.audit_words import film_time, thing

LABELS = "labels"
"""What the texts of an instrument that never change are called together; each is in quotes."""

COLUMNS = 800
"""A strip is drawn to this many columns, each in the state that matters most in it."""

MATTERS: tuple[State, ...] = ("disagrees", "unread", "unheld", "agrees", "unseen")
"""By how much they matter."""

NAMED = {
    "agrees": "agrees",
    "disagrees": "disagrees",
    "unread": "could not be read",
    "unheld": "read, with nothing to hold it against",
    "unseen": "not to be seen",
}

LEFT, RIGHT, ROW, TALL, LEAST = 190, 10, 22, 14, 3
"""In the drawing's units: the margins, a strip's row and height, the least width of a fault."""

STEPS_S = (0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600)
MOST_TICKS = 11
MOST_LETTERS = 28


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """One thing over the whole film: its name, and runs of columns (first, one past the last)."""

    name: str
    runs: tuple[tuple[int, int, State], ...]


def lanes_of(pieces: Sequence[Piece]) -> tuple[Lane, ...]:
    """A lane for each thing that any piece shows, in the order in which they first appear; the
    labels of an instrument share one."""
    low, high = _span(pieces)
    columns: dict[tuple[str, str], list[State]] = {}
    for piece in pieces:
        for strip in piece.strips:
            key = strip.instrument, LABELS if strip.item.startswith("“") else strip.item
            lane = columns.setdefault(key, ["unseen"] * COLUMNS)
            _lay(lane, strip.stretches, low, high)
    shared = Counter(instrument for instrument, _ in columns)
    return tuple(
        Lane(
            name=thing(instrument, item if shared[instrument] > 1 else ""),
            runs=_runs(lane),
        )
        for (instrument, item), lane in columns.items()
    )


def _span(pieces: Sequence[Piece]) -> tuple[float, float]:
    """From where to where the film is looked at [s]."""
    low = min((piece.span_s[0] for piece in pieces), default=0.0)
    high = max((piece.span_s[1] for piece in pieces), default=0.0)
    return low, max(high, low + 1e-3)


def _lay(
    columns: list[State],
    stretches: Sequence[tuple[float, float, State]],
    low: float,
    high: float,
) -> None:
    """Put stretches into columns, the state that matters most on top."""
    scale = COLUMNS / (high - low)
    for start, stop, state in stretches:
        first = min(max(int((start - low) * scale), 0), COLUMNS - 1)
        last = min(max(int((stop - low) * scale - 1e-9), first), COLUMNS - 1)
        rank = MATTERS.index(state)
        for column in range(first, last + 1):
            if rank < MATTERS.index(columns[column]):
                columns[column] = state


def _runs(columns: Sequence[State]) -> tuple[tuple[int, int, State], ...]:
    runs: list[tuple[int, int, State]] = []
    at = 0
    for state, group in groupby(columns):
        count = len(list(group))
        runs.append((at, at + count, state))
        at += count
    return tuple(runs)


def timeline_svg(pieces: Sequence[Piece]) -> str:
    """The time line as a drawing for a page that has its styles; nothing where nothing was read."""
    lanes = lanes_of(pieces)
    if not lanes:
        return ""
    low, high = _span(pieces)
    head = ROW if len(pieces) > 1 else 4
    foot = head + ROW * len(lanes) + 6
    width, height = LEFT + COLUMNS + RIGHT, foot + 34
    facts = 'xmlns="http://www.w3.org/2000/svg" class="agreement" aria-hidden="true"'
    parts = [f'<svg viewBox="0 0 {width} {height}" {facts}>', _HATCH]
    if len(pieces) > 1:
        parts += _pieces(pieces, low, high, foot)
    for number, lane in enumerate(lanes):
        parts += _lane(lane, head + ROW * number + (ROW - TALL) / 2)
    parts += _axis(low, high, foot)
    parts.append("</svg>")
    return "\n".join(parts)


_HATCH = (
    '<defs><pattern id="unread-hatch" width="5" height="5" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><rect width="5" height="5" class="ground"/>'
    '<rect width="1.8" height="5" class="line"/></pattern></defs>'
)


def _lane(lane: Lane, top: float) -> list[str]:
    """A strip with its name; faults last, so that nothing lies on them."""
    name = lane.name if len(lane.name) <= MOST_LETTERS else f"{lane.name[: MOST_LETTERS - 1]}…"
    parts = [f'<text x="{LEFT - 10}" y="{top + TALL - 3:g}" class="name">{escape(name)}</text>']
    for first, last, state in sorted(lane.runs, key=lambda run: run[2] == "disagrees"):
        wide = max(last - first, LEAST) if state == "disagrees" else last - first
        x = LEFT + (first + last - wide) / 2
        low, high = _HEIGHTS.get(state, (0.0, float(TALL)))
        parts.append(
            f'<rect x="{x:g}" y="{top + low:g}" width="{wide:g}" height="{high - low:g}" '
            f'class="state-{state}"/>'
        )
    return parts


_HEIGHTS: Mapping[State, tuple[float, float]] = {
    "disagrees": (-3.0, TALL + 3.0),
    "unseen": (TALL / 2, TALL / 2 + 1),
}
"""From where to where a state stands beside the others: faults stand out, what is not to be seen
is a line."""


def _pieces(pieces: Sequence[Piece], low: float, high: float, foot: float) -> list[str]:
    """Where each piece of an edited film lies, by its number."""
    scale = COLUMNS / (high - low)
    parts = []
    for number, piece in enumerate(pieces, start=1):
        start, stop = (LEFT + (t - low) * scale for t in piece.span_s)
        parts.append(
            f'<rect x="{start:.1f}" y="{ROW - 4}" width="{stop - start:.1f}" '
            f'height="{foot - ROW + 4:g}" class="piece"/>'
        )
        if stop - start > 14:
            parts.append(f'<text x="{start + 4:.1f}" y="{ROW - 8}" class="tick">{number}</text>')
    return parts


def _axis(low: float, high: float, top: float) -> list[str]:
    """The film's time along the foot, its scale in black and white as on a chart's border."""
    step = next((s for s in STEPS_S if (high - low) / s <= MOST_TICKS), STEPS_S[-1])
    first = int(low // step) + (low % step > 1e-9)
    ticks = [n * step for n in range(first, int(high // step) + 1)]
    scale = COLUMNS / (high - low)
    edges = [low, *(tick for tick in ticks if low < tick < high), high]
    parts = [f'<rect x="{LEFT}" y="{top:g}" width="{COLUMNS}" height="6" class="scale"/>']
    for number, (start, stop) in enumerate(pairwise(edges)):
        if number % 2:
            parts.append(
                f'<rect x="{LEFT + (start - low) * scale:.1f}" y="{top:g}" '
                f'width="{(stop - start) * scale:.1f}" height="6" class="black"/>'
            )
    for tick in ticks:
        x = LEFT + (tick - low) * scale
        anchor = " first" if x < LEFT + 16 else " last" if x > LEFT + COLUMNS - 16 else ""
        text = film_time(tick)[:-3] if step >= 1 else film_time(tick)[:-1]
        parts.append(f'<text x="{x:.1f}" y="{top + 22:g}" class="tick mid{anchor}">{text}</text>')
    return parts
