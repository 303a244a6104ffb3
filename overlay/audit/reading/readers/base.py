"""What a reader is.

How to add one: 1. a class with `read` below, in a file of its own here; it gets codes of luma as
they are and gives a `Text` for each picture, with `UNREAD` where it cannot tell; 2. an entry in
`READERS`; 3. `tests/overlay/audit/reading/test_readers.py` runs over every entry of that table.
"""

from __future__ import annotations

from typing import Protocol

from overlay.audit.reading.keeping import Codes
from overlay.audit.reading.spots import Spot
from overlay.audit.reading.texts import Text


class Reader(Protocol):
    """Reads letters off pieces of pictures."""

    def read(self, spot: Spot, codes: Codes) -> list[Text]:
        """The text at a spot in each of several pictures.

        Parameters
        ----------
        codes : [shape=(n, rows, columns)]
            Luma in the spot's window, in pixels of the layout.
        """
        ...
