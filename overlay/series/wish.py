"""From a job's settings and variant to what a render is asked for: one place for plan and work."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from overlay.series.job import Settings, Variant
from overlay.sheet.model import Clip
from overlay.trial import Material
from overlay.workflow.results import in_units
from overlay.workflow.wishes import Wish


def clip_in(clip: Clip, settings: Settings) -> Clip:
    """A clip of the sheet with the series's own faceplate, if it has one."""
    if settings.faceplate is None:
        return clip
    return clip.model_copy(update={"faceplate": settings.faceplate})


def in_variant(material: Material, variant: Variant) -> Material:
    """A trial for readers of the variant's units."""
    return in_units(material, variant.units)


def with_settings(material: Material, settings: Settings) -> Material:
    """A trial whose clips have the series's own faceplate."""
    clips = [clip_in(clip, settings) for clip in material.sheet.clips]
    return replace(material, sheet=material.sheet.model_copy(update={"clips": clips}))


def wish_of(clip: Clip, settings: Settings, variant: Variant, place: Path | None = None) -> Wish:
    """What a render of a clip is asked for. Handles are for clips of a run alone."""
    return Wish(
        encoder=settings.encoder,
        quality=settings.quality,
        handles_s=None if clip.run is None else settings.handles_s,
        strip_location=settings.strip_location,
        shape=variant.shape,
        place=place,
    )
