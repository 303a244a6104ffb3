"""Everything that draws on the picture, one file a kind, in one table."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from overlay.graphics.instruments import (
    bar,
    bracket,
    conditions,
    dial,
    heading_arc,
    inclinometer,
    neatline,
    note,
    readout,
    strip,
    twin_bar,
    twin_dial,
)
from overlay.graphics.instruments.base import Kind

INSTRUMENTS: Mapping[str, Kind] = MappingProxyType(
    {
        kind.name: kind
        for kind in (
            readout.KIND,
            dial.KIND,
            bar.KIND,
            strip.KIND,
            twin_dial.KIND,
            twin_bar.KIND,
            inclinometer.KIND,
            bracket.KIND,
            heading_arc.KIND,
            neatline.KIND,
            note.KIND,
            conditions.KIND,
        )
    }
)
"""All instruments, by the word that a faceplate writes for their kind."""
