"""Files that people hand over as logs and that are none we read, each with a way out.

Signatures are those of the formats' published descriptions.
"""

from __future__ import annotations

from dataclasses import dataclass

_TABLE = "open it in a spreadsheet program and save the sheet as CSV"
_FOOTAGE = "name it under recordings in the trial sheet, not under logs"
_UNPACK = "unpack it first"
_EXPORT = "export it as CSV or as NMEA 0183 text"


SPARED_BYTES = 1000
"""Where `Unsupported.unless` is looked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unsupported:
    """A format that is known but not read: bytes at a place, what it is, and what to do.

    `unless` are bytes that, in the first thousand, make it something that is read after all.
    """

    offset: int
    signature: bytes
    text: str
    advice: str
    unless: bytes | None = None


def _known(
    offset: int, signature: bytes, text: str, advice: str, unless: bytes | None = None
) -> Unsupported:
    return Unsupported(offset=offset, signature=signature, text=text, advice=advice, unless=unless)


KNOWN_UNSUPPORTED: tuple[Unsupported, ...] = (
    _known(0, b"PK\x03\x04", "a zip archive or a spreadsheet workbook", f"unpack it, or {_TABLE}"),
    _known(0, b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an old spreadsheet workbook", _TABLE),
    _known(0, b"%PDF-", "a PDF document", "find the log that it was printed from"),
    _known(8, b".FIT", "a FIT binary sport file", _EXPORT),
    _known(4, b"ftyp", "a video or sound container", _FOOTAGE),
    _known(4, b"moov", "a video or sound container", _FOOTAGE),
    _known(4, b"mdat", "a video or sound container", _FOOTAGE),
    _known(0, b"\x1aE\xdf\xa3", "a Matroska video", _FOOTAGE),
    _known(0, b"RIFF", "a RIFF video or sound file", _FOOTAGE),
    _known(0, b"OggS", "an Ogg sound file", _FOOTAGE),
    _known(0, b"fLaC", "a FLAC sound file", _FOOTAGE),
    _known(0, b"ID3\x03", "an MP3 sound file", _FOOTAGE),
    _known(0, b"\x89PNG", "a picture", "find the log that it shows"),
    _known(0, b"\xff\xd8\xff", "a picture", "find the log that it shows"),
    _known(0, b"\x1f\x8b", "a gzip archive", _UNPACK),
    _known(0, b"BZh", "a bzip2 archive", _UNPACK),
    _known(0, b"\xfd7zXZ\x00", "an xz archive", _UNPACK),
    _known(0, b"7z\xbc\xaf\x27\x1c", "a 7z archive", _UNPACK),
    _known(0, b"\x28\xb5\x2f\xfd", "a Zstandard archive", _UNPACK),
    _known(0, b"SQLite format 3\x00", "an SQLite database", _EXPORT),
    _known(
        0,
        b"UnFinMF ",
        "a measurement data file that was never closed",
        "have the program that wrote it finish it",
    ),
    _known(0, b"\x89HDF", "an HDF5 file", _EXPORT),
    _known(0, b"\xb5b", "a receiver's binary record", "log its NMEA 0183 text"),
    _known(0, b"<?xml", "an XML file", _EXPORT, unless=b"<gpx"),
    _known(0, b"<", "a page or document in a markup language", _EXPORT, unless=b"<gpx"),
    _known(0, b"{", "a JSON document", _EXPORT),
    _known(0, b"ffconcat", "a list of other files", "name those files themselves"),
)
"""In order of looking, the more particular first."""


def unsupported(head: bytes) -> Unsupported | None:
    """The entry that a file's beginning matches, or None."""
    text = head.removeprefix(b"\xef\xbb\xbf")
    for entry in KNOWN_UNSUPPORTED:
        if text[entry.offset :].startswith(entry.signature):
            spared = entry.unless is not None and entry.unless in text[:SPARED_BYTES]
            return None if spared else entry
    return None
