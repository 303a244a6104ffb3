"""What HDR footage says of the display that it was graded on, in the words of an encoder.

FFmpeg hands it out as its own structures, `AVMasteringDisplayMetadata` and
`AVContentLightMetadata` (libavutil/mastering_display_metadata.h): rationals of two 32-bit
numbers for the primaries red, green and blue, the white, the least and the greatest luminance.
Encoders take SMPTE ST 2086's units: 0.00002 of a chromaticity, 0.0001 cd/m²; SVT-AV1 takes
decimals.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping

from overlay.render.encoders import Encoder

_DISPLAY = struct.Struct("<22i")
_LIGHT = struct.Struct("<2I")


def mastering_words(encoder: Encoder, side_data: Mapping[str, bytes]) -> str:
    """The parameters that pass it on; empty where there is nothing, or no place for it."""
    if encoder.mastering is None:
        return ""
    display_name, light_name, also = encoder.mastering
    words = []
    display = side_data.get("MASTERING_DISPLAY_METADATA")
    if display is not None and len(display) >= _DISPLAY.size:
        told = _display(_DISPLAY.unpack_from(display), decimals=encoder.name == "svt-av1")
        if told:
            words.append(f"{display_name}={told}")
    light = side_data.get("CONTENT_LIGHT_LEVEL")
    if light is not None and len(light) >= _LIGHT.size:
        most, average = _LIGHT.unpack_from(light)
        words.append(f"{light_name}={most},{average}")
    if words and also:
        words.append(also)
    return ":".join(words)


def _display(numbers: tuple[int, ...], *, decimals: bool) -> str:
    """`G(x,y)B(x,y)R(x,y)WP(x,y)L(max,min)`; empty where the footage leaves a part of it out."""
    pairs = list(zip(numbers[0:20:2], numbers[1:20:2], strict=True))
    if not all(numbers[20:22]) or any(below == 0 for _, below in pairs):
        return ""
    values = [above / below for above, below in pairs]
    red, green, blue, white = (values[i : i + 2] for i in (0, 2, 4, 6))
    least, most = values[8:10]

    def written(part: list[float], steps: int) -> str:
        return ",".join(f"{v:.6g}" if decimals else str(round(v * steps)) for v in part)

    places = "".join(
        f"{letter}({written(part, 50_000)})"
        for letter, part in (("G", green), ("B", blue), ("R", red), ("WP", white))
    )
    return f"{places}L({written([most, least], 10_000)})"
