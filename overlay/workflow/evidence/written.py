"""What is written of a recording's time: its container's stamp, its timecode, and typed ties."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from overlay.sheet.recording import Recording, TypedTie
from overlay.trial import Material, footage_clock, life_s
from overlay.workflow.evidence.places import STAMP_SDS
from overlay.workflow.evidence.senses import Senses
from sync.clock import UTC, Span, utc_text
from sync.clue import Clue, Finding
from sync.clues import (
    GENERATOR_SD_S,
    Labels,
    Setting,
    Stamp,
    TrialDay,
    code_labels,
    container_labels,
    find_code,
    stamp_clues,
    timecode_clues,
    typed_clue,
)
from sync.errors import FootageError
from sync.media import frame_times, load_sound
from sync.timecode import TimecodeError

if TYPE_CHECKING:
    from sync.media import Footage


def written_clues(
    material: Material, entry: Recording, footage: Footage, senses: Senses
) -> Finding:
    """What stamp, timecode and typed ties say of a recording's clock."""
    typed = Finding(clues=tuple(_typed(entry, footage, tie) for tie in entry.ties))
    labels = timecode_labels(entry, footage, senses)
    return _stamps(material, entry, footage) + typed + time_of_day(material, entry, labels)


def timecode_labels(
    entry: Recording, footage: Footage, senses: Senses
) -> tuple[tuple[Labels, ...], tuple[str, ...]]:
    """The labels of a recording's timecode, and what there is to say of them.

    In slow motion labels count film and not life, so there are none. Code in the sound is
    looked for where the sheet says what it is, since the search takes its time.
    """
    if entry.slow_motion is not None:
        return (), ()
    clock, span = footage_clock(entry.name), frame_times(footage).span
    labels: list[Labels] = []
    remarks: list[str] = []
    if footage.timecode is not None and footage.average_rate_hz is not None:
        try:
            rate = footage.average_rate_hz
            labels.append(container_labels(clock, footage.timecode, rate, span.start_s, span))
        except TimecodeError as error:
            remarks.append(f"{entry.name}: {error}")
    if entry.timecode is not None and footage.sound:
        # The code often stands on one channel alone, which the mean of all would drown.
        several = footage.sound[0].channels > 1
        sound = load_sound(footage, channels="each") if several else senses.heard(footage)
        code = find_code(sound.samples, sound.rate_hz, sound.start_s)
        heard, said = code_labels(clock, code)
        labels += heard
        remarks += said if heard or not labels else ()
    if entry.timecode is not None and not labels:
        remarks.append(f"{entry.name}: it has no timecode, neither in its container nor its sound")
    return tuple(labels), tuple(remarks)


def time_of_day(
    material: Material,
    entry: Recording,
    found: tuple[tuple[Labels, ...], tuple[str, ...]],
) -> Finding:
    """What a timecode says of the time of day; nothing where it was only set with others."""
    labels, remarks = found
    finding = Finding(remarks=remarks)
    if entry.timecode == "together":
        return finding
    within = entry.timecode_within
    setting = Setting(
        meaning=entry.timecode,
        set_utc_s=None if entry.timecode_set is None else entry.timecode_set.timestamp(),
        sd_s=GENERATOR_SD_S if within is None else within / STAMP_SDS,
    )
    day = TrialDay(
        date=material.sheet.date, time_zone=material.sheet.time_zone, logs=_logged(material)
    )
    return finding + timecode_clues(labels, setting, day)


def _stamps(material: Material, entry: Recording, footage: Footage) -> Finding:
    if footage.created is None:
        return Finding(remarks=(f"{entry.name}: its container states no time of creation",))
    span = frame_times(footage).span
    return stamp_clues(
        Stamp(
            clock=footage_clock(entry.name),
            created_utc_s=footage.created.timestamp(),
            length_s=life_s(entry, span.stop_s) - life_s(entry, span.start_s),
        ),
        logs=_logged(material),
        time_zone=material.sheet.time_zone,
        sd_s=max(entry.clock_within / STAMP_SDS, 1e-3),
    )


def _logged(material: Material) -> Span | None:
    """The stretch of UTC that the logs cover which are on it."""
    spans = [
        log.span for log in material.logs.values() if log.clock == UTC and log.span is not None
    ]
    if not spans:
        return None
    return Span(start_s=min(one.start_s for one in spans), stop_s=max(one.stop_s for one in spans))


def _typed(entry: Recording, footage: Footage, tie: TypedTie) -> Clue:
    times = frame_times(footage)
    if tie.frame >= len(times.pts):
        raise FootageError(
            f"the sheet types a tie for frame {tie.frame}, and the last is {len(times.pts) - 1}",
            path=footage.path,
        )
    frame_s = life_s(entry, float(times.duration_pts(tie.frame) * times.time_base))
    clue = typed_clue(
        from_clock=footage_clock(entry.name),
        t_from_s=life_s(entry, times.time_s(tie.frame)),
        frame_s=frame_s,
        to_clock=UTC,
        t_to_s=tie.utc.timestamp(),
        step_s=_last_digit_s(tie),
    )
    text = f"frame {tie.frame} is {utc_text(tie.utc.timestamp())}, typed"
    if tie.sd is None:
        return replace(clue, text=text)
    return replace(clue, text=text, sd_s=math.hypot(tie.sd, frame_s / math.sqrt(12)))


def _last_digit_s(tie: TypedTie) -> float:
    """What the last digit of a typed time is worth: TOML does not keep trailing noughts."""
    digits = f"{tie.utc.microsecond:06d}".rstrip("0")
    return 10.0 ** -len(digits)
