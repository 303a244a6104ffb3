"""`trialreel lineup`: the whole day on one sequence, for an editing program."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from overlay.analysis.results import Results, compute_results
from overlay.errors import SheetError
from overlay.exchange.edl import listed_recordings, recording_list, run_list
from overlay.exchange.grid import USUAL_RATE, Grid, counted_at, grid_from, most_common_rate
from overlay.exchange.lineup import Lineup, place_renders
from overlay.exchange.otio_file import otio_text
from overlay.exchange.placing import PlacedRecording, place
from overlay.exchange.renders import TransparentRender, find_renders
from overlay.exchange.sources import Source, sources_of
from overlay.ledger import LEDGER_END
from overlay.report.words import one_line
from overlay.sheet.fields import safe_name
from overlay.trial import (
    Material,
    Trial,
    build_trial,
    footage_clock,
    read_material,
    recording_entry,
    slowness,
)
from overlay.workflow.align import ties_for
from overlay.workflow.lineup_captions import captions_of, free_name
from overlay.workflow.lineup_folder import must_be_lineup, put_lineup
from overlay.workflow.lineup_notes import notes_of, run_spans
from overlay.workflow.locate import SHEET_NAME, find_sheet
from overlay.workflow.outputs import ledger_of, output_path
from sync.clock import UTC, Span
from sync.errors import TieRefused, TrialReelError
from sync.media import Footage
from sync.timecode import DAY_S, TimecodeRate, behind_s
from sync.units import parse_quantity

HANDLES = "2 s"
OTIO_FILE = "lineup.otio"
RUNS_FILE = "runs.edl"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LineupOutcome:
    """The folder that was written, and what lies in it.

    Parameters
    ----------
    files
        Every file by its place in the folder.
    lineup
        The sequence.
    listed_runs, unseen
        How many runs the list of runs has, and those that no recording shows.
    captioned
        The clips and transparent renders that captions were written for.
    remarks
        What was passed over, and why.
    """

    folder: Path
    files: tuple[str, ...]
    lineup: Lineup
    listed_runs: int
    unseen: tuple[str, ...]
    captioned: tuple[str, ...]
    remarks: tuple[str, ...]


def lineup(sheet: Path, rate_hz: Fraction | None = None, handles: str = HANDLES) -> LineupOutcome:
    """Lay the whole trial on one sequence and write it beside the sheet.

    Parameters
    ----------
    rate_hz
        The sequence's frames a second; None for that of most recordings.
    handles
        How much film before and after each run its cut has, with a unit: `2 s`.

    Raises
    ------
    SheetError
        Where the sheet lists no recordings.
    TieRefused
        Where none of them is tied, so that there is nothing to lay.
    TimecodeError
        Where no timecode counts at the rate.
    OutputError
        Where something stands in the line-up's place that no line-up wrote.
    """
    path = find_sheet(sheet)
    handles_s = _handles(handles)
    rate = None if rate_hz is None else counted_at(rate_hz)
    folder = lineup_folder(path)
    must_be_lineup(folder)
    material = read_material(path)
    if not material.sheet.recordings:
        raise SheetError("the sheet lists no recordings to line up", path=path, key="recordings",
                         advice="add one under [[recordings]]")  # fmt: skip
    return _written(material, folder, rate, handles_s)


def _written(
    material: Material, folder: Path, rate: TimecodeRate | None, handles_s: Fraction
) -> LineupOutcome:
    """Work everything out and put it in place."""
    trial = build_trial(material, ties_for(material))
    found = find_renders(_ledgers(material))
    made = _lined_up(trial, compute_results(trial), found.transparent, rate)
    runs = run_list(made, folder, handles_s)
    captions, captioned, odd = captions_of(found)
    files = {
        OTIO_FILE: otio_text(made, folder),
        **_recording_lists(made, folder),
        **({RUNS_FILE: runs.text} if runs.text else {}),
        **captions,
    }
    put_lineup(folder, files)
    return LineupOutcome(
        folder=folder,
        files=tuple(files),
        lineup=made,
        listed_runs=runs.runs,
        unseen=runs.unseen,
        captioned=captioned,
        remarks=(*_about(made, material), *found.passed_over, *odd),
    )


def _about(made: Lineup, material: Material) -> list[str]:
    """What is not on the sequence, and what to know of its labels."""
    told = []
    told += [
        f"{name} lies more than a day from every recording and is not on the sequence"
        for name in made.of_other_days
    ]
    if material.sheet.time_zone is None:
        told.append("labels are the time of day in UTC, for the sheet has no `time_zone`")
    rate = made.grid.rate
    late_s = behind_s(float(made.frames / rate.rate_hz), rate)
    if abs(late_s) >= rate.frame_s:
        told.append(
            f"labels count frames, and at the end are {abs(late_s):.2f} s "
            f"{'behind' if late_s > 0 else 'ahead of'} the time of day"
        )
    return told


def lineup_folder(sheet_path: Path) -> Path:
    """Where a sheet's line-up goes: `lineup`, or a folder named after a sheet of another name."""
    name = "lineup" if sheet_path.name == SHEET_NAME else f"{sheet_path.stem}.lineup"
    return sheet_path.with_name(name)


def _handles(text: str) -> Fraction:
    handles_s = parse_quantity(text, "time")
    if not 0 <= handles_s <= 600:
        raise SheetError(f"handles of {text} are not between 0 s and 10 min", key="--handles")
    return Fraction(handles_s).limit_denominator(1_000_000)


def _ledgers(material: Material) -> Iterable[Path]:
    """The ledgers beside the sheet's clips, wherever these go, and below the folder `clips`."""
    yield from (material.folder / "clips").rglob(f"*{LEDGER_END}")
    for clip in material.sheet.clips:
        try:
            ledger = ledger_of(material.folder / output_path(clip, material))
        except TrialReelError:
            continue  # `render` says what is wrong with it
        if ledger.is_file() and not ledger.is_relative_to((material.folder / "clips").resolve()):
            yield ledger


def _lined_up(
    trial: Trial,
    results: Results,
    renders: tuple[TransparentRender, ...],
    rate: TimecodeRate | None,
) -> Lineup:
    """The sequence: it begins before all that there is on it."""
    sheet = trial.sheet
    tied, left_out = _tied(trial)
    if not tied:
        why = "; ".join(f"{name}: {reason}" for name, reason in left_out)
        raise TieRefused(f"none of the recordings can be lined up: {why}")
    films = {name: trial.material.footage[name] for name in tied}
    rate = rate or _usual(films.values())
    sources = {name: sources_of(film, rate.rate_hz) for name, film in films.items()}
    begins = [
        trial.footage_to_utc(name).carry(float(of[0].start_s)) for name, of in sources.items()
    ]
    day = Span(start_s=min(begins) - DAY_S, stop_s=max(begins) + DAY_S)
    everything = notes_of(trial, results)
    notes = tuple(one for one in everything if day.holds(one.start_utc_s))
    near = tuple(one for one in renders if day.holds(one.start_utc_s))
    begins += [one.start_utc_s for one in notes] + [one.start_utc_s for one in near]
    # The first recording may lie half a frame early, and the ends of a long one by its drift.
    grid = grid_from(min(begins) - 1, rate, sheet.time_zone or UTC.upper())
    return Lineup(
        trial=one_line(sheet.name),
        grid=grid,
        recordings=tuple(_placed(trial, name, of, grid) for name, of in sources.items()),
        renders=place_renders(near, grid),
        notes=notes,
        runs=run_spans(results),
        left_out=tuple(left_out),
        of_other_days=(
            *(one.name for one in everything if one not in notes),
            *(one.stem for one in renders if one not in near),
        ),
    )


def _usual(films: Iterable[Footage]) -> TimecodeRate:
    """The rate of most recordings; one that varies counts for none."""
    firsts = (sources_of(film, USUAL_RATE)[0] for film in films)
    return most_common_rate(None if one.varies else one.rate_hz for one in firsts)


def _tied(trial: Trial) -> tuple[list[str], list[tuple[str, str]]]:
    """The recordings that can be laid, and the others with the reason."""
    tied: list[str] = []
    left_out: list[tuple[str, str]] = []
    for entry in trial.sheet.recordings:
        name = entry.name
        if name in trial.material.unreadable:
            left_out.append((name, str(trial.material.unreadable[name]).rstrip(".")))
            continue
        try:
            trial.footage_to_utc(name)
        except TieRefused as error:
            why = trial.ties.refused.get(footage_clock(name), str(error))
            left_out.append((name, f"it has no tie: {why}"))
        else:
            tied.append(name)
    return tied, left_out


def _placed(trial: Trial, name: str, sources: tuple[Source, ...], grid: Grid) -> PlacedRecording:
    return place(
        name,
        sources,
        to_utc=trial.footage_to_utc(name),
        tie=trial.ties.by_clock[footage_clock(name)],
        slower=slowness(recording_entry(trial.sheet, name)),
        grid=grid,
    )


def _recording_lists(made: Lineup, folder: Path) -> Mapping[str, str]:
    """A cut list for each recording, by its place; never two of one name."""
    lists: dict[str, str] = {}
    for placed in listed_recordings(made):
        name = free_name(f"recordings/{_file_name(placed.name)}", ".edl", lists)
        lists[f"{name}.edl"] = recording_list(made, placed, folder)
    return lists


def _file_name(name: str) -> str:
    try:
        return safe_name(name)
    except ValueError:
        return "recording"
