"""What `trialreel card` prints."""

from __future__ import annotations

from typing import TYPE_CHECKING

from overlay.cli.console import OUT, as_document, heading, lines

if TYPE_CHECKING:
    from overlay.workflow.card import CardOutcome


def kinds() -> None:
    """Say which cards there are, and which can lie over a picture."""
    from overlay.graphics.cards import CARDS

    for name, kind in CARDS.items():
        heading(name, kind.text + ("" if kind.lower_third else "; full frame only"))


def card(outcome: CardOutcome, *, as_json: bool) -> None:
    """Say where the cards are, and what they leave out."""
    if as_json:
        as_document(
            {
                "schema": "card/1",
                "kind": outcome.kind,
                "cards": [str(path) for path in outcome.paths],
                "width_px": outcome.width_px,
                "height_px": outcome.height_px,
                "remarks": list(outcome.remarks),
            }
        )
        return
    for path in outcome.paths:
        OUT.print(f"written: {path}")
    lines("look at", outcome.remarks)
