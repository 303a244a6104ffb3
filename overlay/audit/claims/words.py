"""How sentences about claims are worded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

from overlay.audit.claims.judged import Place
from overlay.sheet.claims import Claim

MOST_PLACES = 2


def quoted(claim: Claim) -> str:
    """What the film says: its words, or the quantity and value that stand for them."""
    if claim.text:
        return f"“{claim.text}”"
    return f"“{claim.quantity}{f': {claim.value}' if claim.value else ''}”"


def either(items: Iterable[str]) -> str:
    """`a`, `a or b`, `a, b or c`."""
    return _joined(list(items), "or")


def both(items: Iterable[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return _joined(list(items), "and")


def _joined(found: Sequence[str], joint: str) -> str:
    if len(found) < 2:
        return "".join(found)
    return f"{', '.join(found[:-1])} {joint} {found[-1]}"


def clock(t_utc_s: float) -> str:
    """An instant as reports have it, to the hundredth: `04:13:13.40`."""
    hundredths = round(t_utc_s * 100)
    whole = dt.datetime.fromtimestamp(hundredths // 100, tz=dt.UTC)
    return f"{whole:%H:%M:%S}.{hundredths % 100:02d}"


def where(places: Sequence[Place]) -> str:
    """Where in the logs a result stands, as a sentence; or nothing."""
    if not places:
        return ""
    told = [_where(one) for one in places[:MOST_PLACES]]
    more = len(places) - len(told)
    tail = f"; and {more} more stretch{'es' if more > 1 else ''}" if more else ""
    return f"In the logs: {'; '.join(told)}{tail}."


def _where(place: Place) -> str:
    span = f"{clock(place.start_utc_s)} to {clock(place.stop_utc_s)} UTC"
    lines = "" if place.first_line is None else f", lines {place.first_line} to {place.last_line}"
    return f"{place.channel} in {place.log}, {span}{lines}"


def sentence(*parts: str) -> str:
    """Clauses and sentences in a row, each with a capital first and a full stop last."""
    made = []
    for part in parts:
        text = part.strip()
        if text:
            end = "" if text.endswith((".", "?")) else "."
            made.append(f"{text[:1].upper()}{text[1:]}{end}")
    return " ".join(made)
