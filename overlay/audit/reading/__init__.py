"""The read-back: what a viewer would read, taken from the pixels of a finished, compressed clip.

`read_clip` reads a whole clip, or a frame every so many seconds of it::

    found = read_clip(path, layout, every_s=None, clock=utc_of_clip_time)
    found.texts      # a row for every field and still on every frame that was read
    found.pointers   # a row for every needle, end of a bar and hull

and `read_pictures` reads pictures that somebody else has decoded, of a stretch of a film say, at
the place and size that they have there (`Placement`). The layout says where letters stand, of
which font and colour; what ought to be read is not looked at. A character that cannot be told is
`UNREAD`, and its text is not legible: that is an answer, and never agreement.

Letters are drawn anew from the font's file (`letters.py`) and not by the part that draws clips, so
that a wrong glyph there is not wrong here too.
"""

from __future__ import annotations

from overlay.audit.reading.clip import read_clip, read_pictures
from overlay.audit.reading.drawing import same_picture
from overlay.audit.reading.fonts import Fonts
from overlay.audit.reading.placing import Placement
from overlay.audit.reading.result import UNREAD, Readings

__all__ = [
    "UNREAD",
    "Fonts",
    "Placement",
    "Readings",
    "read_clip",
    "read_pictures",
    "same_picture",
]
