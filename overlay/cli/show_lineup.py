"""What `trialreel lineup` prints."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from overlay.cli.console import OUT, as_document, heading
from overlay.cli.exit_codes import CANNOT_SAY, DONE
from overlay.cli.show_table import paragraph

if TYPE_CHECKING:
    from overlay.exchange.grid import Grid
    from overlay.exchange.lineup import Lineup, PlacedRender
    from overlay.exchange.placing import PlacedRecording
    from overlay.workflow.lineup import LineupOutcome


MOST_NAMED = 6
"""Names that one line of the answer may have."""


def lineup(outcome: LineupOutcome, *, as_json: bool) -> int:
    """Say what lies where; the exit code says whether every recording could be laid."""
    code = CANNOT_SAY if outcome.lineup.left_out else DONE
    if as_json:
        as_document(_document(outcome))
        return code
    made = outcome.lineup
    OUT.print(f"written: {outcome.folder}")
    _sequence(made)
    for placed in made.recordings:
        _recording(made.grid, placed)
    for render in made.renders:
        _render(made.grid, render)
    for name, why in made.left_out:
        heading(name, "is not on the sequence")
        paragraph(why, indent="  ")
    _lists(outcome)
    return code


def _sequence(made: Lineup) -> None:
    from overlay.exchange.telling import milliseconds

    grid = made.grid
    heading("the day", f"{grid.label(0)} to {grid.label(made.frames)}, {grid.time_zone} time")
    counted = ", drop-frame timecode" if grid.rate.drop else ""
    frame = milliseconds(float(grid.rate.frame_s))
    paragraph(
        f"{grid.rate.key.removesuffix(' drop')} frames a second ({frame} each){counted}; "
        f"{len(made.notes)} markers",
        indent="  ",
    )


def _recording(grid: Grid, placed: PlacedRecording) -> None:
    """Where a recording lies, and how well."""
    from overlay.exchange.telling import tie_text

    heading(placed.name, f"{grid.label(placed.start)} to {grid.label(placed.stop)}")
    paragraph(tie_text(placed), indent="  ")
    for remark in placed.remarks:
        paragraph(remark, indent="  ", mark="· ")


def _render(grid: Grid, placed: PlacedRender) -> None:
    from overlay.exchange.telling import off_text

    start, stop = grid.label(placed.start), grid.label(placed.stop)
    heading(placed.render.stem, f"{start} to {stop}")
    kept = "" if placed.live else "another form, a disabled clip; "
    paragraph(
        f"{kept}transparent, {placed.render.alpha}, of {placed.render.run}; "
        f"first frame {off_text(placed.off_s)}",
        indent="  ",
    )
    if placed.render.timecode != start:
        paragraph(f"its own timecode begins at {placed.render.timecode}", indent="  ", mark="· ")
    if placed.render.rate_hz != grid.rate.rate_hz:
        paragraph(
            f"it has {placed.render.rate_hz} frames a second, not those of the sequence",
            indent="  ",
            mark="· ",
        )


def _lists(outcome: LineupOutcome) -> None:
    """The files, and what was passed over."""
    heading("files")
    for name in outcome.files:
        OUT.print(f"  {name}")
    if outcome.unseen:
        all_runs = outcome.listed_runs + len(outcome.unseen)
        paragraph(
            f"the list of runs has {outcome.listed_runs} of {all_runs} runs; no recording shows "
            f"{'; '.join(outcome.unseen[:MOST_NAMED])}{_more(len(outcome.unseen))}",
            indent="  ",
            mark="· ",
        )
    for remark in outcome.remarks:
        paragraph(remark, indent="  ", mark="· ")


def _more(unseen: int) -> str:
    return f"; and {unseen - MOST_NAMED} more (--json has all)" if unseen > MOST_NAMED else ""


def _document(outcome: LineupOutcome) -> dict[str, Any]:
    from sync.clock import utc_text

    made = outcome.lineup
    grid = made.grid
    return {
        "schema": "lineup-made/1",
        "folder": str(outcome.folder),
        "files": list(outcome.files),
        "rate_hz": str(grid.rate.rate_hz),
        "timecode": grid.rate.key,
        "time_zone": grid.time_zone,
        "start": grid.label(0),
        "start_utc": utc_text(float(grid.zero_utc_s), 6),
        "frames": made.frames,
        "recordings": [_recording_document(grid, one) for one in made.recordings],
        "transparent": [_render_document(grid, one) for one in made.renders],
        "left_out": [{"recording": name, "why": why} for name, why in made.left_out],
        "markers": [
            {"kind": one.kind, "name": one.name, "text": one.text,
             "frame": grid.frame_at(one.start_utc_s), "utc": utc_text(one.start_utc_s)}
            for one in made.notes
        ],
        "runs_listed": outcome.listed_runs,
        "runs_unseen": list(outcome.unseen),
        "captioned": list(outcome.captioned),
        "remarks": list(outcome.remarks),
    }  # fmt: skip


def _recording_document(grid: Grid, placed: PlacedRecording) -> dict[str, Any]:
    return {
        "recording": placed.name,
        "start": grid.label(placed.start),
        "first_frame": placed.start,
        "frames": placed.stop - placed.start,
        "off_start_ms": 1000 * placed.off_start_s,
        "off_stop_ms": 1000 * placed.off_stop_s,
        "tie_sd_start_ms": 1000 * placed.sd_start_s,
        "tie_sd_stop_ms": 1000 * placed.sd_stop_s,
        "clock_gains_ppm": placed.gains_ppm,
        "remarks": list(placed.remarks),
    }


def _render_document(grid: Grid, placed: PlacedRender) -> dict[str, Any]:
    return {
        "render": str(placed.render.path),
        "run": placed.render.run,
        "alpha": placed.render.alpha,
        "live": placed.live,
        "start": grid.label(placed.start),
        "first_frame": placed.start,
        "frames": placed.frames,
        "off_ms": 1000 * placed.off_s,
    }
