"""What `trialreel transparent` prints."""

from __future__ import annotations

from typing import TYPE_CHECKING

from overlay.cli.console import OUT, as_document, heading, lines

if TYPE_CHECKING:
    from overlay.workflow.transparent import TransparentOutcome


def transparent(outcome: TransparentOutcome, *, as_json: bool) -> None:
    """Say which renders were made, and how to lay them."""
    if as_json:
        as_document(
            {
                "schema": "transparent/1",
                "time_zone": outcome.time_zone,
                "renders": [
                    {
                        "run": one.run,
                        "render": str(one.path),
                        "ledger": str(one.ledger_path),
                        "frames": one.frames,
                        "rate": one.rate,
                        "timecode": one.timecode,
                        "alpha": one.alpha,
                        "warnings": list(one.warnings),
                    }
                    for one in outcome.clips
                ],
            }
        )
        return
    for one in outcome.clips:
        heading(one.run, f"{one.frames} frames at {one.rate}, {one.alpha} alpha")
        OUT.print(f"  render    {one.path}")
        OUT.print(f"  ledger    {one.ledger_path}")
        OUT.print(f"  timecode  {one.timecode}, the time of day in {outcome.time_zone}")
        lines("  warnings", one.warnings)
