"""What footage can be burned onto, how it is drawn on, and what is said about the rest."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from overlay.errors import RenderError
from overlay.graphics.picture import Picture
from overlay.render.cropping import Crop
from overlay.render.encoders import QUARTER, Encoder, Sampling
from overlay.render.recipe import Recipe
from overlay.render.upright import Upright, upright_of
from sync.media import ColourTags, Footage

if TYPE_CHECKING:
    from overlay.graphics.light import Transfer

_MATRICES = {"bt470bg": "bt601", "smpte170m": "bt601", "bt709": "bt709", "bt2020nc": "bt2020"}
_PRIMARIES = {"bt2020": "bt2020", "smpte432": "p3"}
_TRANSFERS: dict[str, Transfer] = {"smpte2084": "pq", "arib-std-b67": "hlg"}

_CHROMA_NAMES = {(2, 2): "420", (2, 1): "422", (1, 1): "444"}

LAYERS = {
    "DOVI_RPU_BUFFER": "a Dolby Vision layer",
    "DOVI_METADATA": "a Dolby Vision layer",
    "DYNAMIC_HDR_PLUS": "dynamic HDR10+ metadata",
}
"""What describes each picture of the footage and no longer fits once it was drawn on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """What a frame is when it is drawn on and encoded.

    Parameters
    ----------
    width_px, height_px
        Of the coded picture; odd sizes are made even where the sampling asks for it.
    pix_fmt
        Planar, by FFmpeg's name.
    colour
        Its tags.
    upright
        How it is turned to be drawn on.
    picture
        What instruments are drawn for: upright.
    crop
        The part of the footage's coded picture that this is; None for the whole of it.
    """

    width_px: int
    height_px: int
    pix_fmt: str
    colour: ColourTags
    upright: Upright
    picture: Picture
    crop: Crop | None = None


def surface_of(footage: Footage, recipe: Recipe, crop: Crop | None = None) -> Surface:
    """How footage, or a part of its picture, is drawn on.

    Raises
    ------
    RenderError
        Where it cannot be.
    """
    _refuse_unfit(footage)
    colour = footage.colour.settled(width=footage.width, height=footage.height)
    if recipe.by.limited_only:
        colour = replace(colour, full_range=False)
    chroma, depth = _sampling(footage, recipe)
    upright, by_format = upright_of(footage), recipe.by.full_by_format
    width, height = footage.width, footage.height
    if crop is not None:
        width, height = crop.width_px, crop.height_px
    width, height = -(-width // chroma[0]) * chroma[0], -(-height // chroma[1]) * chroma[1]
    across, down = upright.pair(width, height)
    return Surface(
        width_px=width,
        height_px=height,
        pix_fmt=_pix_fmt(chroma, depth, full=by_format and bool(colour.full_range)),
        colour=colour,
        upright=upright,
        picture=Picture(
            width_px=across,
            height_px=down,
            matrix=_matrix(footage, colour),
            full_range=bool(colour.full_range),
            depth=depth,
            chroma=upright.pair(*chroma),
            transfer=_TRANSFERS.get(colour.transfer_name, "sdr"),
            primaries=_PRIMARIES.get(colour.primaries_name, "bt709"),
        ),
        crop=crop,
    )


def _pix_fmt(chroma: tuple[int, int], depth: int, *, full: bool) -> str:
    kind = "yuvj" if full and depth == 8 else "yuv"
    return f"{kind}{_CHROMA_NAMES[chroma]}p{'10le' if depth == 10 else ''}"


def sampling_of(pix_fmt: str) -> Sampling:
    """Pixels to a chroma sample, across and down, and bits, of a pixel format."""
    from av import VideoFormat

    given = VideoFormat(pix_fmt, 64, 64)
    if given.is_rgb or len(given.components) < 3:
        return (1, 1), given.components[0].bits
    return (64 // given.chroma_width(), 64 // given.chroma_height()), given.components[0].bits


def _sampling(footage: Footage, recipe: Recipe) -> Sampling:
    """The sampling nearest to the footage's own that the encoder takes."""
    chroma, bits = sampling_of(footage.pix_fmt)
    if not recipe.all_colour and (QUARTER, 8) in recipe.by.takes:
        chroma = QUARTER

    def loss(choice: Sampling) -> tuple[bool, bool, bool, int]:
        (across, down), depth = choice
        coarser = across > chroma[0] or down > chroma[1]
        return depth < min(bits, 10), coarser, depth > max(bits, 8), -across * down

    return min(recipe.by.takes, key=loss)


def _matrix(footage: Footage, colour: ColourTags) -> str:
    if colour.matrix_name not in _MATRICES:
        raise RenderError(
            f"the colour matrix {colour.matrix_name} cannot be drawn in",
            path=footage.path,
            allowed=tuple(_MATRICES),
            advice="convert the footage to BT.709 first",
        )
    return _MATRICES[colour.matrix_name]


def _refuse_unfit(footage: Footage) -> None:
    if footage.interlaced:
        raise RenderError(
            "the pictures are interlaced (made of two fields), and such footage cannot be"
            " rendered yet",
            path=footage.path,
            advice="deinterlace it first, or have the camera record progressive pictures",
        )


def conversion_warnings(footage: Footage, surface: Surface, encoder: Encoder) -> tuple[str, ...]:
    """What the clip will have lost or gained against the footage, in words."""
    warnings = [*_sampling_lost(footage, surface), *_range_lost(footage, surface, encoder)]
    whole = footage.width, footage.height
    if surface.crop is None and whole != (surface.width_px, surface.height_px):
        warnings.append(
            f"the picture is {footage.width}×{footage.height}, and such colour needs even sizes:"
            f" the clip is {surface.width_px}×{surface.height_px}, its last column or row repeated"
        )
    if footage.sample_aspect != 1:
        warnings.append(_stretched(footage.sample_aspect))
    layers = sorted({LAYERS[name] for name in footage.side_data if name in LAYERS})
    warnings += [
        f"{layer} of the footage is left out: it would not fit the picture any more"
        for layer in layers
    ]
    others = [kind for kind in footage.other_tracks if kind != "timecode"]
    if others:
        kinds = ", ".join(sorted(set(others)))
        warnings.append(
            f"{len(others)} more {'track' if len(others) == 1 else 'tracks'} of the footage"
            f" ({kinds}) {'is' if len(others) == 1 else 'are'} not carried over"
        )
    return (*warnings, *_untold(footage, surface.colour))


def _sampling_lost(footage: Footage, surface: Surface) -> list[str]:
    before, after = sampling_of(footage.pix_fmt), sampling_of(surface.pix_fmt)
    lost = []
    if after[1] < before[1]:
        lost.append(f"{after[1]} bits")
    if after[0][0] > before[0][0] or after[0][1] > before[0][1]:
        lost.append(
            "half the colour resolution"
            + (" both ways (4:2:0)" if after[0] == QUARTER else " across (4:2:2)")
        )
    if not lost:
        return []
    return [f"the footage is {footage.pix_fmt} ({before[1]} bits); the clip has "
            + " and ".join(lost)]  # fmt: skip


def _range_lost(footage: Footage, surface: Surface, encoder: Encoder) -> list[str]:
    if footage.colour.full_range and not surface.colour.full_range:
        return [f"the footage is in full range and {encoder.name} is not; the clip is converted"]
    if encoder.mastering is None and "MASTERING_DISPLAY_METADATA" in footage.side_data:
        return [f"{encoder.name} has no place for what the footage says of its mastering display"]
    return []


def _stretched(aspect: Fraction) -> str:
    way, by = ("wider", aspect) if aspect > 1 else ("narrower", 1 / aspect)
    return (
        f"the footage's pixels are not square, which is kept; what is drawn looks {way} by"
        f" {float(by) - 1:.0%}"
    )


def _untold(footage: Footage, colour: ColourTags) -> list[str]:
    missing = footage.colour.missing
    if not missing:
        return []
    text = (
        f"the footage does not say its colour {_listed(missing)}; the clip is tagged"
        f" {colour.matrix_name}, primaries {colour.primaries_name}, transfer"
        f" {colour.transfer_name}, {'full' if colour.full_range else 'limited'} range, by the"
        " size of the picture"
    )
    return [text]


def _listed(names: tuple[str, ...]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
