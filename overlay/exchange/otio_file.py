"""A line-up as an OpenTimelineIO sequence.

Held against OpenTimelineIO 0.18. It counts at floating-point rates, so that the exact ones stand
in the metadata; whether labels drop it takes from the rate, as `sync.timecode` does. Paths are
relative to the file, so that a trial's folder can be carried to another machine whole.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any
from urllib.parse import quote

from overlay.exchange.grid import Grid
from overlay.exchange.lineup import Lineup, Noted, PlacedRender
from overlay.exchange.placing import PlacedPart, PlacedRecording
from overlay.exchange.sources import Source
from overlay.exchange.telling import relative_path, tie_text
from sync.clock import utc_text
from sync.timecode import TimecodeError, frames_of, is_drop_label, rate_near

OURS = "trialreel"
"""Our key in the metadata, which other programs carry along and leave alone."""

COLOURS = {
    "run": "GREEN",
    "mark": "MAGENTA",
    "result": "CYAN",
    "tie mark": "YELLOW",
}


def otio_text(lineup: Lineup, folder: Path) -> str:
    """The sequence as the text of an `.otio` file that lies in a folder."""
    import opentimelineio as otio

    return str(otio.adapters.write_to_string(timeline_of(lineup, folder), "otio_json"))


def timeline_of(lineup: Lineup, folder: Path) -> Any:
    """The sequence: recordings lowest, transparent renders over them, then the sound.

    Other forms of a render that is shown already lie on tracks of their own, as disabled clips.
    """
    import opentimelineio as otio

    grid = lineup.grid
    timeline = otio.schema.Timeline(
        name=lineup.trial,
        global_start_time=_time(grid.first, grid.rate.rate_hz),
        metadata={OURS: _about(lineup)},
    )
    timeline.tracks.extend(_camera(one, grid, folder, sound=False) for one in lineup.recordings)
    layers = range(1 + max((one.layer for one in lineup.renders), default=-1))
    timeline.tracks.extend(_instruments(lineup, layer, folder) for layer in layers)
    timeline.tracks.extend(
        _camera(one, grid, folder, sound=True)
        for one in lineup.recordings
        if one.has_sound and one.slower == 1
    )
    timeline.tracks.markers.extend(_marker(one, grid) for one in lineup.notes)
    return timeline


def _about(lineup: Lineup) -> dict[str, Any]:
    """What holds for the whole sequence, for whoever wants to know exactly."""
    grid = lineup.grid
    return {
        "schema": "lineup/1",
        "rate_hz": str(grid.rate.rate_hz),
        "timecode": grid.rate.key,
        "time_zone": grid.time_zone,
        "start_utc": utc_text(float(grid.zero_utc_s), 6),
        "start_label": grid.label(0),
        "left_out": [{"recording": name, "why": why} for name, why in lineup.left_out],
    }


def _time(frames: int, rate_hz: Fraction) -> Any:
    import opentimelineio as otio

    return otio.opentime.RationalTime(frames, float(rate_hz))


def time_range(start: int, start_hz: Fraction, frames: int, hz: Fraction) -> Any:
    """A stretch of OpenTimelineIO's, whose start and length may count at rates of their own."""
    import opentimelineio as otio

    return otio.opentime.TimeRange(_time(start, start_hz), _time(frames, hz))


def gap(frames: int, rate_hz: Fraction) -> list[Any]:
    """What fills so many frames of a track without a picture; nothing where there are none.

    Raises
    ------
    ValueError
        Where there are fewer than none, for what follows would lie later than it should.
    """
    import opentimelineio as otio

    if frames < 0:
        raise ValueError(f"a gap of {frames} frames")
    if frames == 0:
        return []
    return [otio.schema.Gap(source_range=time_range(0, rate_hz, frames, rate_hz))]


def _camera(placed: PlacedRecording, grid: Grid, folder: Path, *, sound: bool) -> Any:
    """One recording's picture, or its sound, on a track of its own."""
    import opentimelineio as otio

    kind = otio.schema.TrackKind.Audio if sound else otio.schema.TrackKind.Video
    track = otio.schema.Track(
        name=f"{placed.name}, sound" if sound else placed.name,
        kind=kind,
        metadata={OURS: _about_recording(placed)},
    )
    at = 0
    for number, part in enumerate(placed.parts):
        track.extend(gap(part.start - at, grid.rate.rate_hz))
        clip = _clip(placed, part, number, grid, folder)
        if number == 0 and not sound:
            clip.markers.append(_tie_marker(placed, part, grid))
        track.append(clip)
        at = part.stop
    return track


def _about_recording(placed: PlacedRecording) -> dict[str, Any]:
    return {
        "recording": placed.name,
        "off_start_ms": 1000 * placed.off_start_s,
        "off_stop_ms": 1000 * placed.off_stop_s,
        "tie_sd_start_ms": 1000 * placed.sd_start_s,
        "tie_sd_stop_ms": 1000 * placed.sd_stop_s,
        "clock_gains_ppm": placed.gains_ppm,
        "clock_gains_sd_ppm": placed.gains_sd_ppm,
        "slow_motion": placed.slower,
        "remarks": list(placed.remarks),
    }


def _clip(placed: PlacedRecording, part: PlacedPart, number: int, grid: Grid, folder: Path) -> Any:
    import opentimelineio as otio

    source = part.source
    several = f" ({number + 1} of {len(placed.parts)})" if len(placed.parts) > 1 else ""
    references = {"DEFAULT_MEDIA": _reference(source, source.film.path, folder)}
    if source.proxy is not None:
        references["proxy"] = _reference(source, source.proxy.path, folder)
    clip = otio.schema.Clip(
        name=f"{placed.name}{several}",
        source_range=time_range(source.first, source.rate_hz, part.frames, grid.rate.rate_hz),
        metadata={OURS: {"file": source.film.path.name, "timecode": source.label or ""}},
    )
    clip.set_media_references(references, "DEFAULT_MEDIA")
    if placed.slower != 1:
        clip.effects.append(otio.schema.LinearTimeWarp(name="to life", time_scalar=placed.slower))
    return clip


def _reference(source: Source, path: Path, folder: Path) -> Any:
    import opentimelineio as otio

    made = otio.schema.ExternalReference(
        target_url=quote(relative_path(path, folder)),
        available_range=time_range(source.first, source.rate_hz, source.frames, source.rate_hz),
        metadata={OURS: {"rate_hz": str(source.rate_hz), "varies": source.varies}},
    )
    made.name = path.name
    return made


def _tie_marker(placed: PlacedRecording, part: PlacedPart, grid: Grid) -> Any:
    """What there is to say of a recording's place, on its first frame."""
    import opentimelineio as otio

    source = part.source
    return otio.schema.Marker(
        name=f"{placed.name}: where it lies",
        marked_range=time_range(source.first, source.rate_hz, 1, grid.rate.rate_hz),
        color="WHITE",
        comment="; ".join((tie_text(placed), *placed.remarks)),
        metadata={OURS: {"kind": "tie"}},
    )


def _instruments(lineup: Lineup, layer: int, folder: Path) -> Any:
    """The transparent renders of one layer, on a track over the recordings."""
    import opentimelineio as otio

    laid = [one for one in lineup.renders if one.layer == layer]
    number = "" if layer == 0 else f" {layer + 1}"
    other = "" if any(one.live for one in laid) else ", another form"
    name = f"instruments{number}{other}"
    track = otio.schema.Track(name=name, kind=otio.schema.TrackKind.Video)
    at = 0
    for placed in laid:
        track.extend(gap(placed.start - at, lineup.grid.rate.rate_hz))
        track.append(_instrument_clip(placed, lineup.grid, folder))
        at = placed.stop
    return track


def _instrument_clip(placed: PlacedRender, grid: Grid, folder: Path) -> Any:
    import opentimelineio as otio

    render = placed.render
    first = number_of(render.timecode, render.rate_hz)
    url = quote(relative_path(render.path, folder))
    available = time_range(first, render.rate_hz, render.frames, render.rate_hz)
    if render.pictures is None:
        reference = otio.schema.ExternalReference(target_url=url, available_range=available)
    else:
        reference = otio.schema.ImageSequenceReference(
            target_url_base=f"{url}/",
            name_prefix=quote(render.pictures.prefix),
            name_suffix=".png",
            start_frame=render.pictures.first,
            rate=float(render.rate_hz),
            frame_zero_padding=render.pictures.digits,
            available_range=available,
        )
    reference.name = render.path.name
    clip = otio.schema.Clip(
        name=render.run,
        media_reference=reference,
        source_range=time_range(first, render.rate_hz, placed.frames, grid.rate.rate_hz),
        metadata={
            OURS: {"file": render.path.name, "alpha": render.alpha, "off_ms": 1000 * placed.off_s}
        },
    )
    clip.enabled = placed.live
    return clip


def number_of(label: str, rate_hz: Fraction) -> int:
    """The number that a timecode gives a frame at a rate; 0 where it has none."""
    try:
        return frames_of(label, rate_near(rate_hz, drop=is_drop_label(label)))
    except TimecodeError:
        return 0


def _marker(noted: Noted, grid: Grid) -> Any:
    """A marker on the sequence: over the whole of a run, on one frame for an instant."""
    import opentimelineio as otio

    start = grid.frame_at(noted.start_utc_s)
    stop = start if noted.stop_utc_s is None else grid.frame_at(noted.stop_utc_s)
    return otio.schema.Marker(
        name=noted.name,
        marked_range=time_range(start, grid.rate.rate_hz, max(1, stop - start), grid.rate.rate_hz),
        color=COLOURS[noted.kind],
        comment=noted.text,
        metadata={OURS: {"kind": noted.kind, "utc": utc_text(noted.start_utc_s)}},
    )
