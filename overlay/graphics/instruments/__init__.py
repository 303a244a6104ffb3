"""Everything that draws on the picture, one file a kind, in one table."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from overlay.graphics.instruments import dial, inclinometer, neatline, readout
from overlay.graphics.instruments.base import Kind

INSTRUMENTS: Mapping[str, Kind] = MappingProxyType(
    {kind.name: kind for kind in (readout.KIND, dial.KIND, inclinometer.KIND, neatline.KIND)}
)
"""All instruments, by the word that a faceplate writes for their kind."""
