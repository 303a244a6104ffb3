"""What the commands print."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from overlay.cli import show_align, show_results
from overlay.cli.console import OUT, as_document, heading, lines, table
from overlay.cli.exit_codes import BAD_INPUT, DONE
from sync.clock import UTC, Span, utc_text

if TYPE_CHECKING:
    from overlay.workflow.align import AlignOutcome
    from overlay.workflow.check import CheckOutcome, LogReport
    from overlay.workflow.demo import DemoOutcome
    from overlay.workflow.new import NewOutcome
    from overlay.workflow.render import RenderOutcome
    from overlay.workflow.results import ResultsOutcome
    from overlay.workflow.typed_tie import TypedTieOutcome


def ask(question: str) -> str:
    """Ask the person at the terminal; an empty answer leaves a blank."""
    return OUT.input(f"{question} (Enter to leave it blank): ").strip()


def check(outcome: CheckOutcome, *, as_json: bool) -> int:
    """Print what `check` found; the exit code says whether all of it can be used."""
    code = BAD_INPUT if outcome.unreadable else DONE
    for sentence in outcome.unreadable:
        print(f"trialreel: {sentence}", file=sys.stderr)
    if as_json:
        from dataclasses import asdict

        as_document({"schema": "check/1", **asdict(outcome)})
        return code
    heading(outcome.name, str(outcome.sheet_path))
    for log in outcome.logs:
        _check_log(log)
    if outcome.footage:
        made = table("recordings", "name", "picture", "rate", "length", "sound", "stamp")
        for film in outcome.footage:
            made.add_row(
                film.name,
                f"{film.width_px}×{film.height_px} {film.codec}",
                f"{film.rate_hz:.3f} /s",
                f"{film.duration_s:.1f} s",
                film.sound,
                film.created,
            )
        OUT.print(made)
        for film in outcome.footage:
            lines(f"recording {film.name}", film.warnings)
    lines("what cannot be had, and why", outcome.cannot)
    return code


def _check_log(log: LogReport) -> None:
    span = "no values"
    if log.span is not None:
        length = f"{log.span.length_s:.1f} s"
        span = f"{utc_text(log.span.start_s)}, {length}" if log.clock == "utc" else length
    title = f"log {log.name}: {log.format}, clock {log.clock}, {span}"
    made = table(title, "channel", "rate", "values", "none", "holes", "from")
    for channel in log.channels:
        made.add_row(
            channel.key + (" (stuck?)" if channel.stuck else ""),
            f"{channel.rate_hz:.1f} Hz",
            str(channel.samples),
            str(channel.without_value),
            str(len(channel.holes)),
            channel.source,
        )
    if log.channels:
        OUT.print(made)
    else:
        heading(title)
    for channel in log.channels:
        if channel.key in ("speed", "engine_speed") and channel.holes:
            places = ", ".join(_hole(hole, log.clock) for hole in channel.holes[:3])
            more = f" and {len(channel.holes) - 3} more" if len(channel.holes) > 3 else ""
            OUT.print(f"  holes in {channel.key}: {places}{more}")
    if log.marks:
        OUT.print(f"  tie marks: {', '.join(log.marks)}")
    lines(f"log {log.name}", log.warnings)


def _hole(hole: Span, clock: str) -> str:
    start = utc_text(hole.start_s, 1) if clock == UTC else f"{hole.start_s:.1f} s"
    return f"{hole.length_s:.1f} s from {start}"


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
