"""Times and sizes as the page of a series has them."""

from __future__ import annotations

import math

from overlay.figures import NO_VALUE


def clock_text(seconds: float) -> str:
    """A time in minutes and seconds, with hours where there are any: `0:42`, `1:02:03`."""
    if not math.isfinite(seconds):
        return NO_VALUE
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"


def megabytes(count: int) -> str:
    """A size in megabytes, small ones to the hundredth: `0.03`, `1,204.5`."""
    return f"{count / 1e6:,.1f}" if count >= 1e6 else f"{count / 1e6:.2f}"


def size_text(count: int) -> str:
    """A size with its unit: `12.3 MB`, `1.2 GB`."""
    return f"{megabytes(count)} MB" if count < 1e9 else f"{count / 1e9:,.1f} GB"
