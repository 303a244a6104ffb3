"""Opening footage, and refusing what is not footage before any demuxer sees it.

A demuxer that follows lists (concatenation scripts, playlists, session descriptions) would
open other files, or the network, on the word of a text file. So the first bytes decide which
of four container families a file belongs to, that family's demuxer is named to FFmpeg, its
white lists are set to that demuxer and to plain files, and everything else ends here.

Knowledge: ISO/IEC 14496-12 (boxes: a 32-bit size, then a four-letter type), RFC 8794 (EBML's
first four bytes), ISO/IEC 13818-1 (188-byte packets that begin with 0x47), and RIFF's header.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sync.errors import FootageError
from sync.media.ffmpeg_log import Messages, caught

if TYPE_CHECKING:
    from av.container import InputContainer

HEAD_BYTES = 4096
"""Enough for twenty transport-stream packets, and for the first line of any text."""

_FIRST_BOXES = frozenset((b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip", b"pnot", b"styp"))
_TS_PACKET = 188
_M2TS_PACKET = 192


def _is_mov(head: bytes) -> bool:
    return head[4:8] in _FIRST_BOXES


def _is_matroska(head: bytes) -> bool:
    return head.startswith(b"\x1a\x45\xdf\xa3")


def _is_mpegts(head: bytes) -> bool:
    return any(
        len(head) > start + size and all(byte == 0x47 for byte in head[start::size])
        for start, size in ((0, _TS_PACKET), (4, _M2TS_PACKET))
    )


def _is_avi(head: bytes) -> bool:
    return head[:4] == b"RIFF" and head[8:12] == b"AVI "


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """A family of containers: how we call it, FFmpeg's demuxer for it, and how it begins."""

    name: str
    demuxer: str
    whitelist: str
    begins: Callable[[bytes], bool]


FAMILIES: tuple[Family, ...] = (
    Family(
        name="mp4",
        demuxer="mov",
        whitelist="mov,mp4,m4a,3gp,3g2,mj2",
        begins=_is_mov,
    ),
    Family(name="matroska", demuxer="matroska", whitelist="matroska,webm", begins=_is_matroska),
    Family(name="mpegts", demuxer="mpegts", whitelist="mpegts", begins=_is_mpegts),
    Family(name="avi", demuxer="avi", whitelist="avi", begins=_is_avi),
)
"""The containers that trialreel opens; there are no others."""

_SIGNS: tuple[tuple[bytes, str], ...] = (
    (b"ffconcat", "is a text file that lists other files (ffconcat), not footage"),
    (b"#EXTM3U", "is a playlist, not footage"),
    (b"[playlist]", "is a playlist, not footage"),
    (b"v=0", "is the description of a network stream (SDP), not footage"),
    (b"WEBVTT", "is a file of subtitles, not footage"),
    (b"[Script Info]", "is a file of subtitles, not footage"),
    (b"<?xml", "is an XML file, not footage"),
    (b"\x89PNG", "is a picture, not footage"),
    (b"\xff\xd8\xff", "is a picture, not footage"),
    (b"GIF8", "is a picture, not footage"),
    (b"II*\x00", "is a picture, not footage"),
    (b"MM\x00*", "is a picture, not footage"),
    (b"BM", "is a picture, not footage"),
)
_FILES_ADVICE = "name the camera's own file, in MP4, MOV, Matroska, MPEG-TS or AVI"


def sniff(path: Path) -> Family:
    """The container family that a file's first bytes belong to.

    Raises
    ------
    FootageError
        Where there is no such file, it is empty or a folder, or it is something else.
    """
    if path.is_dir():
        raise FootageError("is a folder, not footage", path=path, advice=_FILES_ADVICE)
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
    except FileNotFoundError as error:
        raise FootageError(
            "there is no such file", path=path, advice="check its name and its folder"
        ) from error
    except OSError as error:
        raise FootageError(
            f"cannot be read ({error.strerror})", path=path, advice="check the file's permissions"
        ) from error
    if not head:
        raise FootageError("is empty", path=path, advice="copy it from the camera's card once more")
    for family in FAMILIES:
        if family.begins(head):
            return family
    raise FootageError(_what_it_is(head), path=path, advice=_FILES_ADVICE)


def _what_it_is(head: bytes) -> str:
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    for sign, what in _SIGNS:
        if text.startswith(sign):
            return what
    first_lines = text.split(b"\n", 2)
    if len(first_lines) > 1 and b"-->" in first_lines[1]:
        return "is a file of subtitles, not footage"
    try:
        plain = head.decode("utf-8", errors="strict")
    except UnicodeDecodeError as error:
        if error.start < len(head) - 4:
            return "is in no container that trialreel opens"
        plain = head[: error.start].decode("utf-8")
    if all(letter.isprintable() or letter in "\r\n\t" for letter in plain):
        return "is a text file, not footage"
    return "is in no container that trialreel opens"


@contextmanager
def open_footage(path: Path) -> Iterator[InputContainer]:
    """The opened container of a footage file, closed at the block's end.

    Raises
    ------
    FootageError
        Where the file is missing, empty, cut off, or not footage.
    """
    import av

    family = sniff(path)
    with caught(this_thread_only=True) as messages:
        try:
            container = av.open(
                f"file:{path.absolute()}",
                "r",
                format=family.demuxer,
                container_options={
                    "protocol_whitelist": "file",
                    "format_whitelist": family.whitelist,
                },
                metadata_errors="replace",
            )
        except av.FFmpegError as error:
            raise _refusal(path, error, messages) from error
    try:
        yield container
    finally:
        container.close()


def _refusal(path: Path, error: Exception, messages: Messages) -> FootageError:
    if messages.mention("moov atom not found"):
        return FootageError(
            "was cut off before the camera closed it: its index is missing",
            path=path,
            advice="copy it from the card once more, or have the camera repair the card",
        )
    said = "; ".join(messages.lines())
    reason = f"{getattr(error, 'strerror', None) or error}{f' ({said})' if said else ''}"
    return FootageError(
        f"cannot be opened as footage: {reason}",
        path=path,
        advice="copy it from the camera's card once more",
    )
