"""`trialreel align`: clues from sound, stamps, marks and typed times, and the ties they make."""

from __future__ import annotations

import datetime as dt
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import tomlkit

from overlay.errors import SheetError
from overlay.sheet.fields import EARLIEST, LATEST
from overlay.trial import Material, footage_clock, read_material
from overlay.workflow.clue_search import find_clues
from overlay.workflow.files import write_json, write_whole
from overlay.workflow.hashes import input_stamps
from overlay.workflow.locate import find_sheet, ties_path
from sync.clock import UTC, Span, utc_text
from sync.clues import Clue, step_of
from sync.errors import FootageError
from sync.media import frame_times
from sync.tie import Ties, document, from_document, solve

if TYPE_CHECKING:
    from overlay.sheet import TrialSheet
    from sync.media import Footage


@dataclass(frozen=True, slots=True, kw_only=True)
class AlignOutcome:
    """All clues, the ties that follow, and the sidecar that keeps them.

    `wanted` names the clocks that were asked about; where one of them has no tie, the
    question has no answer.
    """

    wanted: tuple[str, ...]
    clues: tuple[Clue, ...]
    remarks: Mapping[str, tuple[str, ...]]
    ties: Ties
    path: Path

    @property
    def refused(self) -> tuple[str, ...]:
        """The clocks that were asked about and have no tie."""
        return tuple(clock for clock in self.wanted if clock in self.ties.refused)


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedTieOutcome:
    """A tie that was written into the sheet, and the strip of frames to check it by."""

    sheet_path: Path
    recording: str
    frame: int
    utc_s: float
    strip_path: Path


def align(sheet: Path, recording: str | None = None) -> AlignOutcome:
    """Look for clues, solve for all ties, and write them beside the sheet.

    Raises
    ------
    SheetError
        Where the sheet does not list the recording.
    """
    material = read_material(find_sheet(sheet))
    if recording is None:
        names = tuple(entry.name for entry in material.sheet.recordings)
    else:
        names = (recording_of(material.sheet, recording, material.sheet_path),)
    findings = find_clues(material)
    clocks = [log.clock for log in material.logs.values()]
    clocks += [footage_clock(entry.name) for entry in material.sheet.recordings]
    clues = tuple(clue for finding in findings.values() for clue in finding.clues)
    remarks = {clock: finding.remarks for clock, finding in findings.items()}
    for name, error in material.unreadable.items():
        remarks[footage_clock(name)] = (str(error).rstrip("."),)
    ties = solve(clocks, clues, {clock: "; ".join(said) for clock, said in remarks.items()})
    path = ties_path(material.sheet_path)
    write_json(path, {**document(ties), "inputs": input_stamps(material)})
    logs = tuple(log.clock for log in material.logs.values() if log.clock != UTC)
    wanted = (*(footage_clock(name) for name in names), *(() if recording else logs))
    return AlignOutcome(wanted=wanted, clues=clues, remarks=remarks, ties=ties, path=path)


def ties_for(material: Material) -> Ties:
    """The ties of a trial: from the sidecar where nothing has changed since, else found anew.

    Where the material holds no footage, the ties are those of the logs alone.
    """
    path = ties_path(material.sheet_path)
    try:
        given = json.loads(path.read_text(encoding="utf-8"))
        kept = dict(given["inputs"])
        now = input_stamps(material)
        if all(kept.get(name) == stamp for name, stamp in now.items()):
            return from_document(given)
    except (OSError, ValueError, KeyError, TypeError):
        pass  # no sidecar, or none that can be used: it is made again
    if material.footage:
        return align(material.sheet_path).ties
    findings = find_clues(material)
    clues = [clue for finding in findings.values() for clue in finding.clues]
    return solve([log.clock for log in material.logs.values()], clues, {})


def recording_of(sheet: TrialSheet, name: str, path: Path) -> str:
    """The recording that a name means, be it a recording's, a clip's or a file's."""
    for clip in sheet.clips:
        if clip.name == name and clip.recording != name:
            return clip.recording
    for entry in sheet.recordings:
        if name == entry.name or name in entry.files or name in [Path(f).name for f in entry.files]:
            return entry.name
    raise SheetError(
        f"there is no recording or clip called {name!r}",
        path=path,
        allowed=tuple(entry.name for entry in sheet.recordings),
    )


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
    _must_meet_logs(material, footage, frame, instant)
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


def _must_meet_logs(material: Material, footage: Footage, frame: int, instant: dt.datetime) -> None:
    """Refuse a time that puts the footage where no log is."""
    times = frame_times(footage)
    if frame >= len(times):
        raise FootageError(
            f"there is no frame {frame}: the last of {len(times)} is {len(times) - 1}",
            path=footage.path,
        )
    offset = instant.timestamp() - times.time_s(frame)
    film = Span(start_s=times.span.start_s + offset, stop_s=times.span.stop_s + offset)
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
