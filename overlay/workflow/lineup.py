"""`trialreel lineup`: the whole day on one sequence, for an editing program."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from overlay.analysis.results import compute_results
from overlay.errors import SheetError
from overlay.exchange.edl import listed_recordings, over_midnight, recording_list, run_list
from overlay.exchange.grid import counted_at
from overlay.exchange.lineup import Lineup
from overlay.exchange.otio_file import otio_text
from overlay.sheet.fields import safe_name
from overlay.trial import Material, build_trial, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.lineup_captions import captions_of, free_name
from overlay.workflow.lineup_folder import LINEUP_FOLDER
from overlay.workflow.lineup_renders import one_a_run, own_renders
from overlay.workflow.lineup_sequence import lined_up, tied_recordings, usual_rate
from overlay.workflow.locate import SHEET_NAME, find_sheet
from overlay.workflow.wishes import handles_s
from sync.timecode import TimecodeRate, behind_s

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
    about_s = Fraction(handles_s(handles)).limit_denominator(1_000_000)
    rate = None if rate_hz is None else counted_at(rate_hz)
    folder = lineup_folder(path)
    LINEUP_FOLDER.must_be_ours(folder)
    text = path.read_bytes()
    material = read_material(path)
    if not material.sheet.recordings:
        raise SheetError("the sheet lists no recordings to line up", path=path, key="recordings",
                         advice="add one under [[recordings]]")  # fmt: skip
    return _written(material, text, folder, rate, about_s)


def _written(
    material: Material,
    sheet: bytes,
    folder: Path,
    rate: TimecodeRate | None,
    about_s: Fraction,
) -> LineupOutcome:
    """Work everything out and put it in place."""
    trial = build_trial(material, ties_for(material))
    own = own_renders(material, sheet)
    tied, left_out = tied_recordings(trial)
    films = {name: material.footage[name] for name in tied}
    rate = rate or usual_rate(films.values())
    chosen = one_a_run(own, films.values(), rate.rate_hz)
    made = lined_up(trial, compute_results(trial), films, chosen, rate, left_out)
    runs = run_list(made, folder, about_s)
    captions, captioned, odd = captions_of(own.found)
    lists, listed = _recording_lists(made, folder)
    if runs.runs and not runs.text:
        listed.append(f"{RUNS_FILE} is left out: its runs would not fit into the labels of a day")
    files = {
        OTIO_FILE: otio_text(made, folder),
        **lists,
        **({RUNS_FILE: runs.text} if runs.text else {}),
        **captions,
    }
    LINEUP_FOLDER.put(folder, files)
    return LineupOutcome(
        folder=folder,
        files=tuple(files),
        lineup=made,
        listed_runs=runs.runs,
        unseen=runs.unseen,
        captioned=captioned,
        remarks=(*_about(made, material), *own.remarks, *chosen.remarks, *listed, *odd),
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


def _recording_lists(made: Lineup, folder: Path) -> tuple[Mapping[str, str], list[str]]:
    """A cut list for each recording, by its place, never two of one name; and what is to be known
    of those that go over midnight."""
    lists: dict[str, str] = {}
    told: list[str] = []
    for placed in listed_recordings(made):
        name = f"{free_name(f'recordings/{_file_name(placed.name)}', '.edl', lists)}.edl"
        text = recording_list(made, placed, folder)
        if text is None:
            told.append(f"{name} is left out: {placed.name} does not fit into the labels of a day")
            continue
        lists[name] = text
        if over_midnight(made, placed):
            told.append(
                f"{name} begins at hour one, not at the time of day "
                f"({made.grid.label(placed.start)}): no cut list can go over midnight"
            )
    return lists, told


def _file_name(name: str) -> str:
    try:
        return safe_name(name)
    except ValueError:
        return "recording"
