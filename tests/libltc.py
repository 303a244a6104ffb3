"""Linear timecode as libltc writes it: the Debian package's library, called through ctypes."""

from __future__ import annotations

import ctypes
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from outside import debian

LIBRARY = "usr/lib/x86_64-linux-gnu/libltc.so.11"
SHA256 = "75b84f80bf7ae1bc5db840b7363d447c4e0a5702aa7da237569cc2546c7eb9ef"

STANDARDS = {30: 0, 25: 1, 24: 3}
WITH_DATE = 1


class _Time(ctypes.Structure):
    """`SMPTETimecode` of ltc.h."""

    _fields_: Sequence[tuple[str, type]] = [
        ("timezone", ctypes.c_char * 6),
        *((name, ctypes.c_ubyte) for name in ("years", "months", "days")),
        *((name, ctypes.c_ubyte) for name in ("hours", "mins", "secs", "frame")),
    ]


def _library() -> ctypes.CDLL:
    lib = ctypes.CDLL(str(debian("libltc11", LIBRARY, SHA256)))
    handle = ctypes.c_void_p
    buffer = ctypes.POINTER(ctypes.c_ubyte)
    lib.ltc_encoder_create.restype = handle
    lib.ltc_encoder_create.argtypes = [ctypes.c_double, ctypes.c_double, ctypes.c_int, ctypes.c_int]
    lib.ltc_encoder_set_timecode.argtypes = [handle, ctypes.POINTER(_Time)]
    lib.ltc_encoder_get_bufferptr.restype = ctypes.c_int
    lib.ltc_encoder_get_bufferptr.argtypes = [handle, ctypes.POINTER(buffer), ctypes.c_int]
    for name in ("encode_frame", "inc_timecode", "free"):
        getattr(lib, f"ltc_encoder_{name}").argtypes = [handle]
    return lib


def written_by_libltc(
    label: tuple[int, int, int, int], date: tuple[int, int, int], counted: int, frames: int,
    rate: int = 48000,
) -> NDArray[np.float64]:  # fmt: skip
    """So many frames from a label on, with a date (day, month, year of the century)."""
    lib = _library()
    encoder = lib.ltc_encoder_create(rate, counted, STANDARDS[counted], WITH_DATE)
    day, month, year = date
    start = _Time(b"+0000", year, month, day, *label)
    lib.ltc_encoder_set_timecode(encoder, ctypes.byref(start))
    parts = []
    for _ in range(frames):
        lib.ltc_encoder_encode_frame(encoder)
        place = ctypes.POINTER(ctypes.c_ubyte)()
        size = lib.ltc_encoder_get_bufferptr(encoder, ctypes.byref(place), 1)
        parts.append(np.ctypeslib.as_array(place, (size,)).copy())
        lib.ltc_encoder_inc_timecode(encoder)
    lib.ltc_encoder_free(encoder)
    return (np.concatenate(parts).astype(np.float64) - 128.0) / 127.0
