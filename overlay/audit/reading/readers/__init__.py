"""What can read letters off pixels; `READERS` is the table of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from overlay.audit.reading.readers.base import Reader
from overlay.audit.reading.readers.glyphs import GlyphReader
from overlay.audit.reading.readers.tesseract import TesseractReader

READERS: Mapping[str, Callable[[], Reader]] = MappingProxyType(
    {"glyphs": GlyphReader, "tesseract": TesseractReader}
)
"""Readers by the name that `--reader` has for them."""

__all__ = ["READERS", "Reader"]
