"""One recording out of several files: a camera cuts what it shoots without stopping.

The recording's clock is that of its first file. Each file after it begins where the last frame
of the file before ends, or as many frames later as the timecode says are missing. All of this
is exact: times are fractions, and the joined time stamps count in a tick that divides those of
all files.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from sync.errors import FootageError
from sync.media.fit import is_constant, rate_hz, refuse_misfit, refuse_other_rate
from sync.media.footage import COARSE_S, Footage, Part, PartSound
from sync.media.frame_times import CUT_OFF, FrameTimes
from sync.media.frames import file_times
from sync.media.sound_ends import SoundEnds, begins_in_mid_stream, sound_ends
from sync.media.timecode import frames_missing, nominal_rate

MOST_GAP_S = 10
"""Timecode that jumps by more than this is a clock that was set, not frames that are missing."""

STAMP_S = 2.5
"""Stamps count whole seconds, and a camera writes them within a second or so."""

MOST_OVERLAP_S = Fraction(3, 100)
"""Uncoded sound is written in blocks of up to so long, which do not end with the picture."""

MOST_TICKS = 2**31 - 1
"""Containers keep the ticks a second in 32 bits with a sign."""


def join(films: Sequence[Footage]) -> Footage:
    """One recording out of the files that a camera made of it, in their order.

    Raises
    ------
    FootageError
        Where a file is of another make than the first, or one that others follow is cut off.
    """
    first, *others = films
    if not others:
        return first
    for film in others:
        refuse_misfit(first, film)
    times = [file_times(film) for film in films]
    for film, its in zip(others, times[1:], strict=True):
        refuse_other_rate(first, film, times[0], its)
    for film, its, following in zip(films, times, others, strict=False):
        if CUT_OFF in its.warnings:
            raise FootageError(
                f"is cut off, so that it cannot be said where {following.path.name} goes on",
                path=film.path,
                advice="copy it from the camera's card once more",
            )
    parts, remarks = _placed(films, times)
    return _joined(parts, remarks)


def on_clock(films: Sequence[Footage], starts_s: Sequence[Fraction]) -> Footage:
    """Files as one recording, with the instants given at which the first frame of each shows."""
    times = [file_times(film) for film in films]
    parts = []
    for film, its, start_s in zip(films, times, starts_s, strict=True):
        shift_s = start_s - int(its.pts[0]) * its.time_base
        ends = [sound_ends(film, track.track) for track in film.sound]
        sound = tuple(_by_picture(end, shift_s) for end in ends)
        parts.append(Part(film=film, start_s=start_s, shift_s=shift_s, sound=sound))
    return _joined(parts, [])


def _placed(films: Sequence[Footage], times: Sequence[FrameTimes]) -> tuple[list[Part], list[str]]:
    parts: list[Part] = []
    remarks: list[str] = []
    ends_before: list[SoundEnds | None] = []
    stop_s = Fraction(0)
    for number, (film, its) in enumerate(zip(films, times, strict=True)):
        begin_s = int(its.pts[0]) * its.time_base
        start_s = begin_s
        if number:
            gap_s, remark = _gap(films[number - 1], film, times[number - 1])
            remarks += [*remark, *_stamps_apart(films[number - 1], film)]
            start_s = stop_s + gap_s
        shift_s = start_s - begin_s
        ends = [sound_ends(film, track.track) for track in film.sound]
        part = Part(
            film=film,
            start_s=start_s,
            shift_s=shift_s,
            sound=tuple(_by_picture(end, shift_s) for end in ends),
        )
        parts.append(_running_on(parts[-1], ends_before, part, ends) if number else part)
        ends_before = ends
        stop_s = its.stop_pts * its.time_base + shift_s
    return parts, remarks


def _by_picture(ends: SoundEnds | None, shift_s: Fraction) -> PartSound:
    """A track that lies as its picture does."""
    if ends is None:
        return PartSound(shift_s=shift_s)
    return PartSound(shift_s=shift_s, start_s=ends.start_s + shift_s, stop_s=ends.stop_s + shift_s)


def _running_on(
    before: Part,
    ends_before: Sequence[SoundEnds | None],
    part: Part,
    ends: Sequence[SoundEnds | None],
) -> Part:
    """The part with its sound behind that of the part before, if every track runs on."""
    moved = []
    for track, (old, new) in enumerate(zip(ends_before, ends, strict=True)):
        stop_s = before.sound[track].stop_s
        if old is None or new is None or stop_s is None:
            return part
        begin_s = _first_new(new, stop_s - part.shift_s)
        if not _runs_on(part, track, old, new, begin_s + part.shift_s - stop_s):
            return part
        shift_s = stop_s - begin_s
        moved.append(
            PartSound(shift_s=shift_s, start_s=stop_s, stop_s=new.stop_s + shift_s, from_s=begin_s)
        )
    return replace(part, sound=tuple(moved), runs_on=True) if moved else part


def _first_new(ends: SoundEnds, wanted_s: Fraction) -> Fraction:
    """Where a track goes on: with its first packet, or behind the run-up that it declares,
    which may be a packet of the file before; whichever is nearer to the instant wanted."""
    return min(ends.first_s, ends.start_s, key=lambda begin_s: abs(begin_s - wanted_s))


def _runs_on(part: Part, track: int, old: SoundEnds, new: SoundEnds, gap_s: Fraction) -> bool:
    """Whether a track goes on as one encoder wrote it; `gap_s` is how far its packets are apart
    if it lies as the picture does."""
    codec = part.film.sound[track].codec
    if codec.startswith("pcm_"):
        # No camera records the same moment twice: sound that overlaps has lost its offset.
        return -MOST_OVERLAP_S <= gap_s <= COARSE_S
    if old.cut_short:
        return False
    running = begins_in_mid_stream(part.film, track)
    if running is None:
        return not new.run_up and abs(gap_s) <= COARSE_S
    # Cameras that begin both tracks of a file at 0 are up to a packet out with the sound.
    return running and abs(gap_s) <= new.packet_s + COARSE_S


def _gap(one: Footage, other: Footage, times: FrameTimes) -> tuple[Fraction, list[str]]:
    """How much the timecode says is missing between two files, and what is to be said of it."""
    rate = rate_hz(times)
    if not (one.timecode and other.timecode and rate and is_constant(times)):
        return Fraction(0), []
    missing = frames_missing(one.timecode, other.timecode, len(times), nominal_rate(rate))
    if not missing:
        return Fraction(0), []
    names = f"{one.path.name} and {other.path.name}"
    if not 0 < missing <= MOST_GAP_S * rate:
        odd = f"the timecodes of {names} do not follow on from each other and are not used"
        return Fraction(0), [odd]
    step_s = Fraction(int(times.pts[-1] - times.pts[0]), len(times) - 1) * times.time_base
    gap_s = round(missing * step_s / times.time_base) * times.time_base
    return gap_s, [f"{missing} frames are missing between {names}, by their timecodes"]


def _stamps_apart(one: Footage, other: Footage) -> list[str]:
    """A remark where the container stamps leave a hole between two files.

    A stamp may be of a file's beginning or of its end, or all may have that of the recording.
    """
    if one.created is None or other.created is None:
        return []
    step_s = (other.created - one.created).total_seconds()
    lengths = (0.0, one.duration_s or 0.0, other.duration_s or 0.0)
    if any(abs(step_s - length) <= STAMP_S for length in lengths):
        return []
    remark = (
        f"the stamps of {one.path.name} and {other.path.name} lie {step_s:.0f} s apart, and the "
        f"first lasts {lengths[1]:.0f} s: if the camera was stopped in between, list them as "
        "recordings of their own"
    )
    return [remark]


def _joined(parts: Sequence[Part], remarks: Sequence[str]) -> Footage:
    first = parts[0].film
    times = joined_times(first, parts)
    warnings = [
        f"{part.film.path.name}: {line}" if len(parts) > 1 else line
        for part in parts
        for line in part.film.warnings
    ]
    return replace(
        first,
        size_bytes=sum(part.film.size_bytes for part in parts),
        time_base=times.time_base,
        start_pts=int(times.pts[0]),
        duration_s=times.span.length_s,
        other_tracks=tuple(dict.fromkeys(k for part in parts for k in part.film.other_tracks)),
        warnings=(*remarks, *warnings),
        parts=tuple(parts),
    )


def common_tick(ticks: Iterable[Fraction]) -> Fraction:
    """The longest tick of which all the given times are whole multiples."""
    common = Fraction(0)
    for tick in ticks:
        scale = math.lcm(common.denominator, tick.denominator)
        common = Fraction(math.gcd(int(common * scale), int(tick * scale)), scale)
    return common


def joined_times(first: Footage, parts: Sequence[Part]) -> FrameTimes:
    """The frames of all parts in a row, on the recording's clock.

    Raises
    ------
    FootageError
        Where their ticks have none in common that a container could count in.
    """
    times = [file_times(part.film) for part in parts]
    tick = common_tick(
        [*(its.time_base for its in times), *(part.shift_s for part in parts if part.shift_s)]
    )
    if tick.denominator > MOST_TICKS:
        raise FootageError(
            f"counts time in ticks that do not go together with those of {first.path.name}",
            path=parts[-1].film.path,
            advice="list it as a recording of its own",
        )
    pts, stops = [], []
    for part, its in zip(parts, times, strict=True):
        scale, shift = int(its.time_base / tick), int(part.shift_s / tick)
        pts.append(its.pts * scale + shift)
        stops.append(its.stop_pts * scale + shift)
    several = len(parts) > 1
    return FrameTimes(
        path=first.path,
        pts=np.concatenate(pts),
        key=np.concatenate([its.key for its in times]),
        stop_pts=stops[-1],
        time_base=tick,
        warnings=tuple(
            f"{part.film.path.name}: {line}" if several else line
            for part, its in zip(parts, times, strict=True)
            for line in its.warnings
        ),
    )


def frame_times(footage: Footage) -> FrameTimes:
    """Every frame's time stamp, read once and kept in memory and in the user's cache folder.

    Of a recording in several files, the frames of all of them in a row.

    Raises
    ------
    FootageError
        Where no packet has a time stamp, or a file cannot be opened any more.
    """
    if not footage.parts:
        return file_times(footage)
    return joined_times(footage.parts[0].film, footage.parts)
