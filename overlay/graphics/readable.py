"""What can be read on a plan's pictures, and where: the layout that its ledger keeps."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, replace
from hashlib import sha256
from types import MappingProxyType
from typing import TypeVar

from overlay.graphics.instruments.base import Part
from overlay.graphics.plan import Plan
from overlay.ledger import Field, Layout, Pointer, Still

Place = TypeVar("Place", Still, Field, Pointer)


def layout_of(plan: Plan) -> Layout:
    """Every text and pointer of a plan, the fonts and the codes that it is drawn in."""
    picture, theme = plan.picture, plan.theme
    colours = {
        one.name: picture.yuv(getattr(theme.colours, one.name)) for one in fields(theme.colours)
    }
    parts = plan.parts
    return Layout(
        width_px=picture.width_px,
        height_px=picture.height_px,
        depth=picture.depth,
        opacity=theme.opacity,
        inks=MappingProxyType({name: (c.y, c.u, c.v) for name, c in colours.items()}),
        fonts=MappingProxyType(
            {path.name: sha256(path.read_bytes()).hexdigest() for path in theme.fonts.values()}
        ),
        shown_utc_s=(plan.run.shown_from_utc_s, plan.run.shown_to_utc_s),
        stills=tuple(one for part in parts for one in _timed(part, part.texts)),
        fields=tuple(one for part in parts for one in _timed(part, part.fields)),
        pointers=tuple(one for part in parts for one in _timed(part, part.pointers)),
    )


def _timed(part: Part, places: tuple[Place, ...]) -> Iterator[Place]:
    """Places with when their part is to be seen, where they do not say so themselves."""
    for place in places:
        since = part.from_utc_s if place.from_utc_s is None else place.from_utc_s
        until = part.to_utc_s if place.to_utc_s is None else place.to_utc_s
        yield replace(place, from_utc_s=since, to_utc_s=until)
