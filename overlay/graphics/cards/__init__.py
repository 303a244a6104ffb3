"""Cards: stills of a trial's results, for the whole frame or over a picture; one file a kind."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from overlay.graphics.cards import comparison, conditions, course, curves, launches, steps, title
from overlay.graphics.cards.base import CardKind

CARDS: Mapping[str, CardKind] = MappingProxyType(
    {
        kind.name: kind
        for kind in (
            title.KIND,
            conditions.KIND,
            steps.KIND,
            launches.KIND,
            curves.KIND,
            course.KIND,
            comparison.KIND,
        )
    }
)
"""All cards, by the word that the command has for their kind."""
