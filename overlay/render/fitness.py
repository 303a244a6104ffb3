"""What footage can be burned onto, and what is said about the rest."""

from __future__ import annotations

from overlay.errors import RenderError
from sync.media import ColourTags, Footage

NATIVE_FORMATS = ("yuv420p", "yuvj420p")
"""Pixel formats that instruments are blended into as they are: 8 bits, 4:2:0."""


def working_format(footage: Footage, colour: ColourTags) -> str:
    """The pixel format that footage is drawn on and encoded in.

    Its own where that is possible; else 8-bit 4:2:0 of the same range, so that code values
    are not stretched on the way.
    """
    if footage.pix_fmt in NATIVE_FORMATS:
        return footage.pix_fmt
    return "yuvj420p" if colour.full_range else "yuv420p"


def refuse_unfit(footage: Footage) -> None:
    """Refuse footage that would come out wrong.

    Raises
    ------
    RenderError
        Where it is turned, interlaced, or of an odd size.
    """
    if footage.rotation_deg:
        raise RenderError(
            f"the camera was turned by {footage.rotation_deg}°, and turned footage cannot be"
            " rendered yet",
            path=footage.path,
            advice="turn the picture upright in an editing program first",
        )
    if footage.interlaced:
        raise RenderError(
            "the pictures are interlaced (made of two fields), and such footage cannot be"
            " rendered yet",
            path=footage.path,
            advice="deinterlace it first, or have the camera record progressive pictures",
        )
    if footage.width % 2 or footage.height % 2:
        raise RenderError(
            f"the picture is {footage.width}×{footage.height}, and a size with an odd number"
            " cannot be encoded in 4:2:0",
            path=footage.path,
            advice="crop the picture to an even size first",
        )


def conversion_warnings(footage: Footage, colour: ColourTags) -> tuple[str, ...]:
    """What the clip will have lost or gained against the footage, in words."""
    warnings = []
    if footage.pix_fmt not in NATIVE_FORMATS:
        warnings.append(
            f"the footage is {footage.pix_fmt} ({footage.bit_depth} bits); the clip has 8 bits"
            " and half the colour resolution both ways (4:2:0)"
        )
    if footage.other_tracks:
        kinds = ", ".join(sorted(set(footage.other_tracks)))
        warnings.append(
            f"{len(footage.other_tracks)} more tracks of the footage ({kinds}) are not carried over"
        )
    missing = footage.colour.missing
    if missing:
        warnings.append(
            f"the footage does not say its colour {_listed(missing)}; the clip is tagged"
            f" {colour.matrix_name}, primaries {colour.primaries_name}, transfer"
            f" {colour.transfer_name}, {'full' if colour.full_range else 'limited'} range, by the"
            " size of the picture"
        )
    return tuple(warnings)


def _listed(names: tuple[str, ...]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
