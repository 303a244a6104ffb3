"""How a line-up is told in words: milliseconds, rates, and where the files lie."""

from __future__ import annotations

import os
from decimal import Decimal
from pathlib import Path

from overlay.exchange.placing import PlacedRecording
from overlay.figures import plain, round_half_up

_TENTH = Decimal("0.1")


def milliseconds(length_s: float) -> str:
    """A length to a tenth of a millisecond, and from 100 on to a whole one: `0.4 ms`."""
    step = _TENTH if abs(length_s) < 0.1 else Decimal(1)
    return f"{plain(round_half_up(length_s * 1000, step), step)} ms"


def tie_text(placed: PlacedRecording) -> str:
    """How well a recording lies: what its ends are off by, and how sure its tie is there."""
    first, last = off_text(placed.off_start_s), off_text(placed.off_stop_s)
    off = f"{first} throughout" if first == last else f"first frame {first}, last {last}"
    sure, then = milliseconds(placed.sd_start_s), milliseconds(placed.sd_stop_s)
    sd = f"± {sure}" if sure == then else f"± {sure} at the first and ± {then} at the last"
    return f"{off}; the tie itself is {sd} (one standard deviation)"


def off_text(off_s: float) -> str:
    """How far an end lies from where the tie has it."""
    told = milliseconds(abs(off_s))
    return "in place" if told == "0.0 ms" else f"{told} {'late' if off_s > 0 else 'early'}"


def relative_path(path: Path, folder: Path) -> str:
    """A path as it is found from a folder, with slashes; whole where no way leads there."""
    try:
        return Path(os.path.relpath(path.absolute(), folder.absolute())).as_posix()
    except ValueError:  # another drive
        return path.absolute().as_posix()
