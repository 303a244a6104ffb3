"""How a frame's time stamp lies to what its picture shows, where nobody says.

A frame is taken to be stamped as the shutter opens for its first row. It stays open for a part of
a frame's time, and opens for each row a little later than for the one above:

::

    shown = stamp + down · readout + open / 2
"""

from __future__ import annotations

from sync.clue import Doubt

OPEN_SHARE = 0.25
"""How much of a frame's time the shutter is taken to be open (common practice in daylight, no
published source)."""

READOUT_SHARE, READOUT_SD_SHARE = 0.4, 0.25
"""How much of a frame's time a shutter takes from the first row to the last where nobody says,
and one standard deviation (common practice, no published source)."""

SHUTTER_SD_SHARE = 0.2
"""What is not known of how the stamp lies to the shutter, and how it rolls, as a share of a frame's
time: all frames of a recording share it."""


def shown_after_s(frame_s: float, down: float) -> float:
    """How long after its stamp a frame shows what is so far down the picture."""
    return frame_s * (READOUT_SHARE * down + OPEN_SHARE / 2)


def shutter_doubt(clock: str, frame_s: float) -> Doubt:
    """What all clues that are seen in one recording share and none of them knows."""
    return Doubt(name=f"the shutter of {clock}", sd_s=SHUTTER_SD_SHARE * frame_s)
