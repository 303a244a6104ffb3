"""The lined-up day put together: its recordings, its renders and its markers on one sequence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from overlay.analysis.results import Results
from overlay.exchange.grid import USUAL_RATE, Grid, grid_from, most_common_rate
from overlay.exchange.lineup import Lineup, place_renders
from overlay.exchange.placing import PlacedRecording, begins_utc_s, place
from overlay.exchange.sources import Source, sources_of
from overlay.report.words import one_line
from overlay.trial import Trial, footage_clock, recording_entry, slowness
from overlay.workflow.lineup_notes import notes_of, run_spans
from overlay.workflow.lineup_renders import Chosen
from sync.clock import UTC, Span
from sync.errors import TieRefused
from sync.media import Footage
from sync.timecode import DAY_S, TimecodeRate


def lined_up(
    trial: Trial,
    results: Results,
    films: Mapping[str, Footage],
    chosen: Chosen,
    rate: TimecodeRate,
    left_out: Sequence[tuple[str, str]],
) -> Lineup:
    """The sequence: it begins before all that there is on it."""
    sheet = trial.sheet
    sources = {name: sources_of(film, rate.rate_hz) for name, film in films.items()}
    begins = [_begins_s(trial, name, of) for name, of in sources.items()]
    day = Span(start_s=min(begins) - DAY_S, stop_s=max(begins) + DAY_S)
    everything = notes_of(trial, results)
    notes = tuple(one for one in everything if day.holds(one.start_utc_s))
    live = tuple(one for one in chosen.live if day.holds(one.start_utc_s))
    spare = tuple(one for one in chosen.spare if day.holds(one.start_utc_s))
    begins += [one.start_utc_s for one in notes]
    begins += [one.start_utc_s for one in (*live, *spare)]
    # What lies first may be moved by half a frame.
    grid = grid_from(min(begins) - 1, rate, sheet.time_zone or UTC.upper())
    return Lineup(
        trial=one_line(sheet.name),
        grid=grid,
        recordings=tuple(_placed(trial, name, of, grid) for name, of in sources.items()),
        renders=place_renders(live, grid, spare),
        notes=notes,
        runs=run_spans(results),
        left_out=tuple(left_out),
        of_other_days=(
            *(one.name for one in everything if one not in notes),
            *(one.stem for one in (*chosen.live, *chosen.spare) if one not in (*live, *spare)),
        ),
    )


def usual_rate(films: Iterable[Footage]) -> TimecodeRate:
    """The rate of most recordings; one that varies counts for none."""
    firsts = (sources_of(film, USUAL_RATE)[0] for film in films)
    return most_common_rate(None if one.varies else one.rate_hz for one in firsts)


def tied_recordings(trial: Trial) -> tuple[list[str], list[tuple[str, str]]]:
    """The recordings that can be laid, and the others with the reason.

    Raises
    ------
    TieRefused
        Where none can.
    """
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
    if not tied:
        why = "; ".join(f"{name}: {reason}" for name, reason in left_out)
        raise TieRefused(f"none of the recordings can be lined up: {why}")
    return tied, left_out


def _begins_s(trial: Trial, name: str, sources: tuple[Source, ...]) -> float:
    """Where a recording begins: by its tie, or, where a clock that runs fast or slow moves it
    forward on the sequence, there."""
    to_utc = trial.footage_to_utc(name)
    slower = slowness(recording_entry(trial.sheet, name))
    laid_s = float(begins_utc_s(sources, to_utc=to_utc, slower=slower))
    return min(laid_s, to_utc.carry(float(sources[0].start_s)))


def _placed(trial: Trial, name: str, sources: tuple[Source, ...], grid: Grid) -> PlacedRecording:
    return place(
        name,
        sources,
        to_utc=trial.footage_to_utc(name),
        tie=trial.ties.by_clock[footage_clock(name)],
        slower=slowness(recording_entry(trial.sheet, name)),
        grid=grid,
    )
