"""What the commands print."""

from __future__ import annotations

from typing import TYPE_CHECKING

from overlay.cli import show_align, show_check, show_results
from overlay.cli.console import OUT, as_document, heading, lines
from sync.clock import utc_text

if TYPE_CHECKING:
    from overlay.workflow.align import AlignOutcome
    from overlay.workflow.check import CheckOutcome
    from overlay.workflow.demo import DemoOutcome
    from overlay.workflow.new import NewOutcome
    from overlay.workflow.render import RenderOutcome
    from overlay.workflow.results import ResultsOutcome
    from overlay.workflow.specimen import SpecimenOutcome
    from overlay.workflow.typed_tie import TypedTieOutcome


def ask(question: str) -> str:
    """Ask the person at the terminal; an empty answer leaves a blank."""
    return OUT.input(f"{question} (Enter to leave it blank): ").strip()


def check(outcome: CheckOutcome, *, as_json: bool) -> int:
    """Print what `check` found; the exit code says whether all of it can be used."""
    return show_check.check(outcome, as_json=as_json)


def align(outcome: AlignOutcome, *, as_json: bool) -> int:
    """Print clues and ties; the exit code says whether all that was asked has an answer."""
    return show_align.align(outcome, as_json=as_json)


def typed_tie(outcome: TypedTieOutcome) -> None:
    """Say what was written down, and how to check it."""
    OUT.print(
        f"frame {outcome.frame} of {outcome.recording!r} is {utc_text(outcome.utc_s)}: "
        f"written into {outcome.sheet_path}"
    )
    OUT.print(f"look at the frames around it: {outcome.strip_path}")


def results(outcome: ResultsOutcome, *, as_json: bool) -> None:
    """Print the results with their definitions."""
    show_results.results(outcome, as_json=as_json)


def render(outcome: RenderOutcome, *, as_json: bool) -> None:
    """Say which clips were made."""
    if as_json:
        as_document(
            {
                "schema": "render/1",
                "clips": [
                    {
                        "name": clip.name,
                        "clip": str(clip.path),
                        "ledger": str(clip.ledger_path),
                        "frames": clip.frames,
                        "length_s": clip.length_s,
                        "warnings": list(clip.warnings),
                    }
                    for clip in outcome.clips
                ],
            }
        )
        return
    for clip in outcome.clips:
        heading(clip.name, f"{clip.frames} frames, {clip.length_s:.2f} s")
        OUT.print(f"  clip    {clip.path}")
        OUT.print(f"  ledger  {clip.ledger_path}")
        lines("  warnings", clip.warnings)


def demo(outcome: DemoOutcome) -> None:
    """Show the demo's results, and where everything lies."""
    align(outcome.align, as_json=False)
    results(outcome.results, as_json=False)
    render(outcome.render, as_json=False)
    OUT.print(f"  results {outcome.results.path}")
    OUT.print(f"  sheet   {outcome.sheet_path}")


def new(outcome: NewOutcome) -> None:
    """Say what was found, what could not be told, and what to do next."""
    OUT.print(f"written: {outcome.sheet_path}")
    lines("found", outcome.found)
    lines("what I could not tell", outcome.unknown)
    OUT.print(f"next: trialreel check --trial {outcome.sheet_path}")


def specimen(outcome: SpecimenOutcome, *, as_json: bool) -> None:
    """Say where the specimen is."""
    if as_json:
        as_document(
            {
                "schema": "specimen/1",
                "picture": str(outcome.path),
                "width_px": outcome.width_px,
                "height_px": outcome.height_px,
            }
        )
        return
    OUT.print(f"written: {outcome.path}, {outcome.width_px}×{outcome.height_px}")
