"""Times and lists as the sentences of `check` have them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from overlay.report.words import time_of_day
from sync.clock import UTC, Span


def when(t_s: float, clock: str, time_zone: str) -> str:
    """An instant on UTC as a time of day, one on another clock in its seconds."""
    return time_of_day(t_s, time_zone) if clock == UTC else f"{t_s:.1f} s of its clock"


def listed(items: Iterable[str], most: int = 6) -> str:
    """`a`, `a and b`, `a, b and c`; beyond `most` their number."""
    found = list(items)
    if len(found) > most:
        return f"{', '.join(found[: most - 1])} and {len(found) - most + 1} more"
    return found[0] if len(found) == 1 else f"{', '.join(found[:-1])} and {found[-1]}"


def names(items: Sequence[str]) -> str:
    """Names in quotes: `'gps' and 'engine'`."""
    return listed(f"'{item}'" for item in items)


def places(spans: Sequence[Span], clock: str, time_zone: str, most: int = 3) -> str:
    """Where and how long: `8.2 s at 07:31:10`; the longest first."""
    ranked = sorted(spans, key=lambda span: -span.length_s)
    told = [f"{s.length_s:.1f} s at {when(s.start_s, clock, time_zone)}" for s in ranked[:most]]
    more = f", and {len(ranked) - most} more" if len(ranked) > most else ""
    return ", ".join(told) + more


def spoken(key: str) -> str:
    """A channel's key as a sentence has it: `engine speed`, `engine speed 2` for the second."""
    name, _, instance = key.partition(".")
    return name.replace("_", " ") + (f" {int(instance) + 1}" if instance else "")


def sentence(text: str) -> str:
    """A sentence: a capital first, a full stop or its own question mark last."""
    end = "" if text.endswith("?") else "."
    return f"{text[:1].upper()}{text[1:].rstrip('.')}{end}"
