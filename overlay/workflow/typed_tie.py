"""`trialreel align RECORDING --frame N --utc T`: a tie that a person read from the picture."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import tomlkit

from overlay.errors import SheetError
from overlay.sheet.fields import EARLIEST, LATEST
from overlay.trial import Material, life_s, read_material, recording_entry
from overlay.workflow.align import recording_of
from overlay.workflow.files import write_whole
from overlay.workflow.locate import find_sheet
from sync.clock import UTC, Span, utc_text
from sync.clues import step_of
from sync.errors import FootageError
from sync.media import frame_times

if TYPE_CHECKING:
    from sync.media import Footage


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedTieOutcome:
    """A tie that was written into the sheet, and the strip of frames to check it by."""

    sheet_path: Path
    recording: str
    frame: int
    utc_s: float
    strip_path: Path


def type_tie(sheet: Path, recording: str, *, frame: int, utc: str) -> TypedTieOutcome:
    """Write a tie that a person read into the sheet, with a strip of frames to check it by.

    Raises
    ------
    SheetError
        Where the time cannot be read or the frame is not in the footage.
    """
    sheet_path = find_sheet(sheet)
    material = read_material(sheet_path)
    name = recording_of(material.sheet, recording, sheet_path)
    if name in material.unreadable:
        raise material.unreadable[name]
    instant = _instant(utc)
    footage = material.footage[name]
    _must_meet_logs(material, name, frame, instant)
    strip = sheet_path.parent / "checks" / f"{name}-frame-{frame}.png"
    write_whole(strip, _strip(footage, frame))
    _write_tie(sheet_path, name, frame, instant, step_of(utc) / math.sqrt(12))
    return TypedTieOutcome(
        sheet_path=sheet_path,
        recording=name,
        frame=frame,
        utc_s=instant.timestamp(),
        strip_path=strip,
    )


def _must_meet_logs(material: Material, name: str, frame: int, instant: dt.datetime) -> None:
    """Refuse a time that puts the footage where no log is."""
    footage, entry = material.footage[name], recording_entry(material.sheet, name)
    times = frame_times(footage)
    if frame >= len(times):
        raise FootageError(
            f"there is no frame {frame}: the last of {len(times)} is {len(times) - 1}",
            path=footage.path,
        )
    offset = instant.timestamp() - life_s(entry, times.time_s(frame))
    film = Span(
        start_s=life_s(entry, times.span.start_s) + offset,
        stop_s=life_s(entry, times.span.stop_s) + offset,
    )
    spans = [log.span for log in material.logs.values() if log.clock == UTC and log.span]
    if spans and not any(span.overlap(film) for span in spans):
        first, last = min(s.start_s for s in spans), max(s.stop_s for s in spans)
        raise SheetError(
            f"{utc_text(instant.timestamp())} would put the footage where no log is: they run "
            f"from {utc_text(first, 0)} to {utc_text(last, 0)}",
            advice="check the day, the hour and the zone of the time",
        )


def _instant(text: str) -> dt.datetime:
    try:
        instant = dt.datetime.fromisoformat(text)
    except ValueError as error:
        raise SheetError(
            f"{text!r} is not a time", advice="write for example 2026-06-11T09:14:03.250Z"
        ) from error
    if instant.tzinfo is None:
        raise SheetError(f"{text!r} has no zone", advice="end it in Z for UTC")
    if not EARLIEST < instant.year <= LATEST:
        raise SheetError(f"{text!r} is not a time of any trial")
    return instant.astimezone(dt.UTC)


def _write_tie(
    sheet_path: Path, recording: str, frame: int, instant: dt.datetime, sd_s: float
) -> None:
    """Put the tie in the sheet, which keeps its comments and its order."""
    # As bytes, so that a sheet keeps the line ends that it has.
    document = tomlkit.parse(sheet_path.read_bytes().decode("utf-8"))
    entry: Any = next(e for e in document["recordings"] if e["name"] == recording)
    kept = [tie for tie in entry.get("ties", []) if tie["frame"] != frame]
    row = tomlkit.inline_table()
    row.update({"frame": frame, "utc": instant, "sd": f"{sd_s:.4f} s"})
    ties = tomlkit.array()
    for tie in (*kept, row):
        ties.append(tie)
    entry["ties"] = ties
    write_whole(sheet_path.resolve(), tomlkit.dumps(document).encode())


def _strip(footage: Footage, frame: int) -> bytes:
    """The frames around one, side by side, the one itself framed, as a PNG."""
    import io

    from PIL import Image, ImageDraw

    from sync.media import pictures

    times = frame_times(footage)
    count = len(times)
    indices = [i for i in range(frame - 2, frame + 3) if 0 <= i < count]
    images = [Image.fromarray(np.asarray(p)) for p in pictures(footage, indices, 360)]
    gap, foot = 8, 28
    width = sum(image.width for image in images) + gap * (len(images) + 1)
    sheet = Image.new("RGB", (width, images[0].height + 2 * gap + foot), (16, 32, 56))
    pen = ImageDraw.Draw(sheet)
    left = gap
    seconds = times.seconds()
    for index, image in zip(indices, images, strict=True):
        sheet.paste(image, (left, gap))
        if index == frame:
            box = (left - 4, gap - 4, left + image.width + 3, gap + image.height + 3)
            pen.rectangle(box, outline=(232, 79, 168), width=4)
        pen.text(
            (left, gap + image.height + 10),
            f"frame {index}, {seconds[index]:.3f} s of the recording",
            fill=(247, 240, 220),
        )
        left += image.width + gap
    buffer = io.BytesIO()
    sheet.save(buffer, format="PNG")
    return buffer.getvalue()
