"""Times and sizes in few words."""

from __future__ import annotations


def about(seconds: float) -> str:
    """A time as a person would say it: `40 s`, `14 min`, `3 h 20 min`."""
    whole = round(seconds)
    if whole < 90:
        return f"{max(whole, 1)} s"
    minutes = round(seconds / 60)
    if minutes < 90:
        return f"{minutes} min"
    hours, rest = divmod(round(seconds / 600) * 10, 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def size(count: float) -> str:
    """A size of files or memory: `3 MB`, `1.2 GB`."""
    if count < 1e9:
        return f"{max(round(count / 1e6), 1)} MB"
    return f"{count / 1e9:.1f} GB" if count < 1e11 else f"{count / 1e9:,.0f} GB"
