"""What `trialreel reel` prints."""

from __future__ import annotations

from typing import TYPE_CHECKING

from overlay.cli.console import OUT, as_document, heading, lines

if TYPE_CHECKING:
    from overlay.workflow.reel import MadeReel, ReelOutcome


def reel(outcome: ReelOutcome, *, as_json: bool) -> None:
    """Say where the reels are, and what lies where in each."""
    if as_json:
        made = [_document(one) for one in outcome.reels]
        as_document({"schema": "reels/1", "reels": made})
        return
    for one in outcome.reels:
        width, height = one.size
        heading(
            one.name,
            f"{one.length_s:.2f} s, {width}×{height}, {float(one.rate_hz):.5g} frames a second",
        )
        for part in one.parts:
            stretch = f"{_clock(part['start_s'])} to {_clock(part['stop_s'])}"
            OUT.print(f"  {stretch}  {part['kind']} {part['name']}")
        OUT.print(f"  film   {one.path}")
        OUT.print(f"  parts  {one.parts_path}")
        lines("  look at", one.remarks)


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(seconds * 100), 6000)
    return f"{minutes:2d}:{rest / 100:05.2f}"


def _document(one: MadeReel) -> dict[str, object]:
    return {
        "name": one.name,
        "film": str(one.path),
        "parts_file": str(one.parts_path),
        "width_px": one.size[0],
        "height_px": one.size[1],
        "rate": str(one.rate_hz),
        "frames": one.frames,
        "length_s": one.length_s,
        "parts": list(one.parts),
        "remarks": list(one.remarks),
    }
