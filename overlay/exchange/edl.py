"""Cut lists in the CMX 3600 form, which hold one picture track each.

Every recording has a list with its files at their places in the day, and one more list has all
runs in a row, each with its handles, from the recording that shows the most of it. The adapter
of OpenTimelineIO writes the events; what it does not write, the line that says whether labels
drop, is put in here. Runs, marks and results stand as `* LOC:` comments with their place in the
list, a colour and a text: that form is no part of CMX 3600 but the adapter's own, an open program
that reads it back as markers; to others it is a comment.

Labels begin anew at midnight, and no event can go over it. A recording that does is listed from
hour one on instead of the time of day, and a file whose own timecode does is counted from nought.

A list knows one rate, that of the sequence. A file of another rate is therefore counted in the
sequence's frames from nought, as a program has it that takes the file in at that rate, and a
comment says so.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from overlay.exchange.grid import Grid
from overlay.exchange.lineup import Lineup, Noted, RunSpan
from overlay.exchange.otio_file import COLOURS, gap, time_range
from overlay.exchange.placing import PlacedPart, PlacedRecording
from overlay.exchange.sources import Source
from overlay.exchange.telling import relative_path
from sync.clock import Span
from sync.timecode import TimecodeRate, frames_of, is_drop_label, label_of, rate_near

REEL_LETTERS = 8
TITLE_LETTERS = 70
KEPT_REELS = {"AX", "BL", "BLACK", "BARS"}
"""Names of reels that mean something else than a file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Locator:
    """A note at a frame of the list."""

    at: int
    colour: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Frames of one file, from its frame `first` on, laid at frame `at` of the list."""

    part: PlacedPart
    first: int
    frames: int
    at: int
    told: tuple[str, ...]
    locators: tuple[Locator, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunList:
    """The cut list of all runs, how many runs it has, and those that no recording shows.

    There is no text where no run is shown, and where all together are too long for one list.
    """

    text: str | None
    runs: int
    unseen: tuple[str, ...]


def listed_recordings(lineup: Lineup) -> tuple[PlacedRecording, ...]:
    """The recordings that a cut list can have: those that play as fast as life."""
    return tuple(one for one in lineup.recordings if one.slower == 1)


def reels_of(lineup: Lineup) -> Mapping[Path, str]:
    """A reel of at most eight letters and digits for every file, no two alike."""
    reels: dict[Path, str] = {}
    for placed in listed_recordings(lineup):
        for part in placed.parts:
            path = part.source.film.path
            plain = re.sub(r"[^A-Z0-9]", "", path.stem.upper()) or "REEL"
            reel, number = plain[:REEL_LETTERS], 2
            while reel in KEPT_REELS or reel in reels.values():
                reel = f"{plain[: REEL_LETTERS - len(str(number))]}{number}"
                number += 1
            reels[path] = reel
    return reels


def over_midnight(lineup: Lineup, placed: PlacedRecording) -> bool:
    """Whether the labels of a recording begin anew on it, or with its end."""
    a_day = lineup.grid.rate.frames_in_a_day
    first = lineup.grid.first
    return (first + placed.start) // a_day != (first + placed.stop) // a_day


def recording_list(lineup: Lineup, placed: PlacedRecording, folder: Path) -> str | None:
    """One recording as a cut list on the time of day, or from hour one where that goes over
    midnight; None where it is too long for that too."""
    rate = lineup.grid.rate
    # Where the sequence's first frame lies in the list, on the day that the recording begins.
    first = lineup.grid.first
    first -= (first + placed.start) // rate.frames_in_a_day * rate.frames_in_a_day
    told: tuple[str, ...] = ()
    if over_midnight(lineup, placed):
        first = hour_one(rate) - placed.start
        told = (f"BEGINS AT {lineup.grid.label(placed.start)} OF THE DAY, LISTED FROM HOUR ONE",)
        if first + placed.stop >= rate.frames_in_a_day:
            return None
    events = [
        _event(lineup, part, part.start, part.stop, part.start, () if number else told)
        for number, part in enumerate(placed.parts)
    ]
    return _text(f"{lineup.trial}, {placed.name}", events, lineup, folder, first)


def run_list(lineup: Lineup, folder: Path, handles_s: Fraction) -> RunList:
    """All runs in a row from hour one, each with its handles, from the recording that shows the
    most of it."""
    handle = round(handles_s * lineup.grid.rate.rate_hz)
    events: list[Event] = []
    unseen: list[str] = []
    for run in lineup.runs:
        view = best_view(lineup, run.span)
        if view is None:
            unseen.append(run.name)
        else:
            at = events[-1].at + events[-1].frames if events else 0
            events += _run_events(lineup, run, view, handle, at)
    text, first = None, hour_one(lineup.grid.rate)
    if events and first + events[-1].at + events[-1].frames < lineup.grid.rate.frames_in_a_day:
        text = _text(f"{lineup.trial}, runs", events, lineup, folder, first)
    return RunList(text=text, runs=len(lineup.runs) - len(unseen), unseen=tuple(unseen))


def hour_one(rate: TimecodeRate) -> int:
    """Where a list begins that does not lie on the time of day (common practice, no published
    source)."""
    return frames_of(f"01:00:00{';' if rate.drop else ':'}00", rate)


def frames_within(span: Span, grid: Grid) -> tuple[int, int]:
    """The frames that show a stretch of UTC: the first, and the one after the last."""
    return grid.frame_at(span.start_s), grid.frame_at(span.stop_s) + 1


def best_view(lineup: Lineup, span: Span) -> PlacedRecording | None:
    """The recording that shows the most of a stretch, the first of them where several do."""
    start, stop = frames_within(span, lineup.grid)

    def shown(placed: PlacedRecording) -> int:
        return sum(max(0, min(one.stop, stop) - max(one.start, start)) for one in placed.parts)

    views = [one for one in listed_recordings(lineup) if shown(one) > 0]
    return max(views, key=shown, default=None)


def _run_events(
    lineup: Lineup, run: RunSpan, view: PlacedRecording, handle: int, at: int
) -> list[Event]:
    """A run as one event, or one for each file that shows some of it."""
    start, stop = frames_within(run.span, lineup.grid)
    whole = view.start <= start and stop <= view.stop
    told = f"RUN: {run.name}, {view.name}{'' if whole else ', not all of it is filmed'}"
    events = []
    for part in view.parts:
        first, last = max(part.start, start - handle), min(part.stop, stop + handle)
        if first < last:
            events.append(_event(lineup, part, first, last, at, (told,)))
            at += last - first
    return events


def _event(
    lineup: Lineup, part: PlacedPart, first: int, stop: int, at: int, told: tuple[str, ...]
) -> Event:
    """The event that shows some frames of the sequence, with what is noted on them."""
    locators = tuple(
        Locator(at=at + frame - first, colour=COLOURS[one.kind], text=_said(one))
        for one in lineup.notes
        if first <= (frame := lineup.grid.frame_at(one.start_utc_s)) < stop
    )
    return Event(
        part=part,
        first=first - part.start,
        frames=stop - first,
        at=at,
        told=told,
        locators=locators,
    )


def _said(noted: Noted) -> str:
    return f"{noted.name}: {noted.text}" if noted.text and noted.kind != "run" else noted.name


def _text(title: str, events: Iterable[Event], lineup: Lineup, folder: Path, first: int) -> str:
    """A cut list whose first frame has the number `first`."""
    import opentimelineio as otio

    rate = lineup.grid.rate
    reels = reels_of(lineup)
    track = otio.schema.Track(name="V", kind=otio.schema.TrackKind.Video)
    at = -first  # the adapter counts from midnight, and knows nothing of where a list begins
    for event in events:
        track.extend(gap(event.at - at, rate.rate_hz))
        track.append(_clip(event, rate, reels, folder, first))
        at = event.at + event.frames
    timeline = otio.schema.Timeline(name=title[:TITLE_LETTERS], tracks=[track])
    text = str(otio.adapters.write_to_string(timeline, "cmx_3600", rate=float(rate.rate_hz)))
    head, _, rest = text.partition("\n")
    return f"{head}\nFCM: {'DROP FRAME' if rate.drop else 'NON-DROP FRAME'}\n{rest}"


def _clip(
    event: Event, rate: TimecodeRate, reels: Mapping[Path, str], folder: Path, first: int
) -> Any:
    import opentimelineio as otio

    source = event.part.source
    film = source.film.path
    own = not source.varies and source.rate_hz == rate.rate_hz and not _begins_anew(source, rate)
    begin = event.first + (source.first if own else 0)
    locators = [
        f"LOC: {label_of(first + one.at, rate)} {one.colour:7} {one.text}" for one in event.locators
    ]
    comments = [*event.told, *_about_source(source, event, rate), *locators]
    return otio.schema.Clip(
        name=film.name,
        media_reference=otio.schema.ExternalReference(target_url=relative_path(film, folder)),
        source_range=time_range(begin, rate.rate_hz, event.frames, rate.rate_hz),
        metadata={"cmx_3600": {"reel": reels[film], "comments": comments}},
    )


def _begins_anew(source: Source, rate: TimecodeRate) -> bool:
    """Whether the labels of a file at the list's rate go over midnight, as no event can."""
    return source.first + source.frames >= rate.frames_in_a_day


def _about_source(source: Source, event: Event, rate: TimecodeRate) -> list[str]:
    """What the event's own times do not say of the file."""
    if source.varies:
        return ["SOURCE OF VARYING RATE, COUNTED IN FRAMES OF THE LIST FROM ITS BEGINNING"]
    if source.rate_hz != rate.rate_hz:
        own = f"{float(source.rate_hz):.5g}"
        return [
            f"SOURCE AT {own} FRAMES A SECOND, COUNTED IN FRAMES OF THE LIST FROM ITS BEGINNING"
        ]
    if _begins_anew(source, rate):
        return ["SOURCE TIMECODE GOES OVER MIDNIGHT, COUNTED FROM ITS BEGINNING"]
    if source.label and is_drop_label(source.label) != rate.drop:
        counted = rate_near(rate.rate_hz, drop=not rate.drop)
        return [f"SOURCE TIMECODE {label_of(source.first + event.first, counted)}"]
    return []
