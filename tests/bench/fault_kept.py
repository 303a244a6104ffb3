"""Faults in what is kept: logs, sheets and ledgers edited after the render, films exchanged, and a
tie that picture, ledger and ties file share."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from false_clips import Clip, Take, audited, faces, film, verdict_of
from false_faces import face, other_digit
from fault_ground import Ground
from fault_study import Fared, NoFaultError, Row

from overlay.audit.verdict import Pair, Piece
from overlay.trial import Material, build_trial, footage_clock, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.auditing.independent import check_tie
from overlay.workflow.hashes import sha256_of
from sync.clock import UTC
from sync.clues import Clue
from sync.media import probe
from sync.tie import Ties, solve

OF_LOGS: set[Pair] = {("ledger", "logs"), ("picture", "logs")}
OF_LEDGER: set[Pair] = {("picture", "ledger"), ("ledger", "logs")}
TYPED_SD_S = 0.02
"""How sure whoever wrote the time down says to be."""


def _plain_clip(
    rng: np.random.Generator, ground: Ground, name: str = "launch"
) -> tuple[Take, Clip]:
    """A clip in which nothing is false, at the steep of the launch."""
    take = ground.take(rng, name, film="sea", within=(1.5, 9.0), length_s=2.0)
    return take, film(take, faces(take), ground.path())


def _copy(take: Take, ground: Ground) -> Path:
    """The trial once more; returns its sheet."""
    folder = ground.place / "edited"
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(take.crew.sheet_path.parent, folder)
    return folder / take.crew.sheet_path.name


def _pairs(piece: Piece) -> set[Pair]:
    return {pair for one in piece.disagreements for pair in one.pairs}


def _fared(piece: Piece, take: Take, wanted: set[Pair], frames: tuple[int, int] | None) -> Fared:
    """How it fared with something false somewhere: `frames` between which that bears on pictures,
    None where it bears on none of them in particular."""
    named = _pairs(piece)
    at = {n for one in piece.disagreements for n in range(one.frames[0], one.frames[1] + 1)}
    inside = frames is None or (bool(at) and min(at) >= frames[0] and max(at) <= frames[1])
    found = verdict_of(piece, take.crew).outcome == "disagrees"
    right = bool(named) and named <= wanted
    said = [one.sentence for one in piece.disagreements[:2]]
    changed = [one.name for one in piece.inputs if one.state != "same"]
    return Fared(
        found=found,
        pairs=right,
        frames=inside,
        told=""
        if found and right and inside
        else f"changed: {changed}; {sorted(named)}, {len(at)} frames, wanted {frames}; {said}",
    )


def log_fault(rng: np.random.Generator, ground: Ground, *, how: str) -> Fared:
    """A log is edited after the render: in a row that a shown number follows from."""
    take, clip = _plain_clip(rng, ground)
    sheet = _copy(take, ground)
    middle = take.start_utc_s + take.length_s / 2
    if how == "value":
        _edit_fix(sheet.parent / "logs" / "gps.nmea", middle + 0.2, rng.uniform(1.5, 4.0))
    else:
        _edit_row(sheet.parent / "logs" / "attitude.csv", middle, how)
    return _fared(audited(clip, take.crew, sheet=sheet), take, OF_LOGS, None)


def _edit_fix(path: Path, t_utc_s: float, more_kn: float) -> None:
    """Another speed in the sentences of one fix."""
    stamp = round((t_utc_s % 86_400) * 10) / 10
    wanted = f"{int(stamp // 3600):02d}{int(stamp % 3600 // 60):02d}{stamp % 60:05.2f}"
    lines, inside = [], False
    for line in path.read_text().splitlines():
        parts = line.split("*")[0].split(",")
        if parts[0].endswith("RMC"):
            inside = parts[1] == wanted
        changed = line
        if inside and parts[0].endswith("RMC"):
            parts[7] = f"{float(parts[7]) + more_kn:.2f}"
            changed = _sentence(parts)
        elif inside and parts[0].endswith("VTG"):
            kn = float(parts[5]) + more_kn
            parts[5], parts[7] = f"{kn:.2f}", f"{kn * 1.852:.2f}"
            changed = _sentence(parts)
        lines.append(changed)
    path.write_text("\n".join(lines) + "\n")


def _sentence(parts: list[str]) -> str:
    body = ",".join(parts)[1:]
    check = 0
    for letter in body:
        check ^= ord(letter)
    return f"${body}*{check:02X}"


def _edit_row(path: Path, t_utc_s: float, how: str) -> None:
    """Rows of 0.7 s left out, or moved by 0.3 s, of a log in UTC."""
    head, *rows = path.read_text().splitlines()
    kept = []
    for row in rows:
        if not 0.0 <= _second_of_day(row) - t_utc_s % 86_400 < 0.7:
            kept.append(row)
        elif how == "time":
            stamp, rest = row.split(",", 1)
            second = float(stamp[17:].rstrip("Z")) + 0.3
            if second < 60:
                kept.append(f"{stamp[:17]}{second:06.3f}Z,{rest}")
    # A stamp sorts as it is written.
    path.write_text("\n".join([head, *sorted(kept)]) + "\n")


def _second_of_day(row: str) -> float:
    return int(row[11:13]) * 3600 + int(row[14:16]) * 60 + float(row[17:23])


def sheet_fault(rng: np.random.Generator, ground: Ground, *, how: str) -> Fared:
    """The sheet is edited after the render: a delay, or the units."""
    take, clip = _plain_clip(rng, ground)
    sheet = _copy(take, ground)
    text = sheet.read_text(encoding="utf-8")
    if how == "units":
        new = re.sub(r'units = "us"', f'units = "{rng.choice(["nautical", "metric"])}"', text)
    else:
        late = round(float(rng.choice([0.0, 0.05, 0.10, 0.15, 0.25, 0.3, 0.4])), 2)
        new = text.replace('delay = "0.20 s"', f'delay = "{late:.2f} s"', 1)
    if new == text:
        raise NoFaultError
    sheet.write_text(new, encoding="utf-8")
    piece = audited(clip, take.crew, sheet=sheet)
    if how == "units":  # a clip may be in others than its sheet, so that only the hash tells
        changed = [one.name for one in piece.inputs if one.state != "same"]
        return Fared(found=changed == ["sheet"], told="" if changed == ["sheet"] else str(changed))
    return _fared(piece, take, OF_LOGS, None)


def ledger_fault(rng: np.random.Generator, ground: Ground, *, how: str) -> Fared:
    """The ledger is edited: a text, a value, an instant of a frame, or a fact of the whole."""
    take, clip = _plain_clip(rng, ground)
    table = pq.read_table(clip.ledger_path)
    meta = dict(pq.read_metadata(clip.ledger_path).metadata)
    rows = table.to_pandas()
    facts = json.loads(meta[b"trialreel"])
    numbers = rows.index[rows["text"].astype(str).str.contains("[0-9]", regex=True)]
    at = int(rng.choice(numbers))
    frame = int(rows["frame"][at])
    frames: tuple[int, int] | None = (frame, frame)
    wanted = OF_LEDGER
    if how == "text":
        rows["text"] = rows["text"].astype(str)
        rows.loc[at, "text"] = other_digit(str(rows["text"][at]), rng)
    elif how == "value":
        rows.loc[at, "value_si"] *= 1.02
    elif how == "row":
        rows = rows.drop(index=at)
    elif how == "instant":
        rows.loc[rows["frame"] == frame, "t_utc_s"] += 0.1
        wanted = {("ledger", "logs"), ("picture", "ledger"), ("picture", "logs")}
        frames = None
    else:
        frames, wanted = None, OF_LEDGER | OF_LOGS
        _facts_edited(facts, how)
    _write(clip.ledger_path, table.schema, rows, facts, meta)
    piece = audited(clip, take.crew, sheet=take.crew.sheet_path)
    return _fared(piece, take, wanted, frames)


def _facts_edited(facts: dict[str, Any], how: str) -> None:
    if how == "tie":
        facts["tie"]["offset_s"] += 0.5
    elif how == "delay":
        facts["delays"]["speed"]["delay_s"] += 0.1
    elif how == "start":
        facts["run"]["start_utc_s"] -= 0.3
    else:
        facts["log_ties"]["log:engine"]["offset_s"] += 0.5


def _write(path: Path, schema: pa.Schema, rows: Any, facts: Any, meta: dict[bytes, bytes]) -> None:
    """A ledger with other rows or facts, its prints as they were."""
    made = pa.Table.from_pandas(rows, preserve_index=False).select(schema.names).cast(schema)
    kept = {key: value for key, value in meta.items() if key != b"ARROW:schema"}
    kept[b"trialreel"] = json.dumps(facts).encode()
    with pq.ParquetWriter(path, made.schema) as writer:
        writer.write_table(made)
        writer.add_key_value_metadata(kept)


def clip_fault(rng: np.random.Generator, ground: Ground) -> Fared:
    """Beside a ledger lies the clip of another stretch of the same launch."""
    take, clip = _plain_clip(rng, ground)
    other = replace(take, start_utc_s=take.start_utc_s + float(rng.uniform(0.5, 3.0)))
    made = film(other, faces(other), ground.path())
    piece = audited(replace(clip, path=made.path), take.crew)
    return _fared(piece, take, {("picture", "ledger"), ("picture", "logs")}, None)


def footage_fault(rng: np.random.Generator, ground: Ground) -> Fared:
    """In the place of a recording lies another film than that which was rendered."""
    take = ground.take(rng, "launch", film="sea", within=(1.5, 9.0), length_s=2.0)
    inputs = take.crew.hashes | {"footage:bow": sha256_of(take.footage.path)}
    clip = film(take, faces(take), ground.path(), inputs)
    name = str(rng.choice(["spray", "sea fast"]))
    material = replace(take.crew.material, footage={"bow": ground.films[name]})
    piece = audited(clip, take.crew, material=material)
    told = {one.name for one in piece.inputs if one.state == "changed"}
    found = verdict_of(piece, take.crew).outcome == "disagrees"
    return Fared(found=found, pairs=told == {"footage:bow"}, beside=len(piece.disagreements),
                 told="" if found else str(told))  # fmt: skip


def _with_film(ground: Ground) -> tuple[Material, Ties]:
    """The demo's morning with its film, and its ties."""
    material = read_material(ground.demo.sheet)
    return material, ties_for(material)


def _typed(ties: Ties, clock: str, off_s: float) -> Ties:
    """Ties in which a recording rests on nothing but a frame that somebody read a time for, and
    that is off."""
    tie = ties.by_clock[clock]
    at_s = tie.pivot_s or 0.0
    clue = Clue(
        kind="typed",
        from_clock=clock,
        to_clock=UTC,
        offset_s=float(tie.map.carry(at_s)) - at_s + off_s,
        sd_s=TYPED_SD_S,
        at_s=at_s,
        typed=True,
    )
    others = [
        one for other in ties.by_clock.values() for one in other.clues
        if clock not in (one.from_clock, one.to_clock)
    ]  # fmt: skip
    return solve(ties.by_clock, [clue, *others], {})


def tie_fault(rng: np.random.Generator, ground: Ground, *, off_s: float) -> Fared:
    """A wrong tie that picture, ledger and ties file share: only the film's own sound and pictures,
    held against the logs anew, can tell."""
    material, ties = _with_film(ground)
    clock = footage_clock("bow")
    off_s *= float(rng.choice([-1, 1])) if off_s else 1.0
    wrong = _typed(ties, clock, off_s)
    to_utc = wrong.by_clock[clock].map
    crew = replace(ground.crews["one"], material=material, trial=build_trial(material, wrong))
    length_s = 10.0
    start_s = float(rng.uniform(8.0, 25.0))
    take = Take(
        crew=crew, run="launch 1", faceplate=face("quiet"), footage=material.footage["bow"],
        start_utc_s=float(to_utc.carry(start_s)), length_s=length_s, from_s=start_s,
    )  # fmt: skip
    clip = film(take, faces(take), ground.path())
    check = check_tie(
        material, wrong, "bow", probe(clip.path),
        t_film_s=length_s / 2, t_utc_s=float(to_utc.carry(start_s + length_s / 2)),
    )  # fmt: skip
    return Fared(
        found=check.outcome == "disagrees",
        pairs=check.outcome != "none available",
        frames=check.off_s is not None and abs(check.off_s + off_s) < 0.1,
        told=f"off {off_s:+.1f} s: {check.sentence}",
    )


def kept_rows() -> list[Row]:
    """The table's rows."""
    made: list[tuple[str, Callable[..., Fared], int, int, float | None]] = [
        ("log: one value", partial(log_fault, how="value"), 8, 1, 1.0),
        ("log: rows left out", partial(log_fault, how="row"), 6, 0, 1.0),
        ("log: times moved", partial(log_fault, how="time"), 6, 0, 1.0),
        ("sheet: a delay", partial(sheet_fault, how="delay"), 6, 0, 1.0),
        ("sheet: units", partial(sheet_fault, how="units"), 4, 0, 1.0),
        ("ledger: a text", partial(ledger_fault, how="text"), 8, 1, 1.0),
        ("ledger: a value", partial(ledger_fault, how="value"), 4, 0, None),
        ("ledger: a row gone", partial(ledger_fault, how="row"), 4, 0, 1.0),
        ("ledger: an instant", partial(ledger_fault, how="instant"), 4, 0, None),
        ("ledger: its tie", partial(ledger_fault, how="tie"), 2, 0, None),
        ("ledger: a log's tie", partial(ledger_fault, how="log tie"), 2, 0, None),
        ("ledger: a delay", partial(ledger_fault, how="delay"), 2, 0, None),
        ("ledger: run's start", partial(ledger_fault, how="start"), 2, 0, None),
        ("clip exchanged", clip_fault, 4, 0, 1.0),
        ("footage exchanged", footage_fault, 4, 0, 1.0),
    ]
    made += [(f"tie off by {off_s} s", partial(tie_fault, off_s=off_s), 4, 0, None)
             for off_s in (0.1, 0.2, 0.5)]  # fmt: skip
    made.append(("tie right", partial(tie_fault, off_s=0.0), 4, 0, None))
    return [
        Row(
            name=name, run=run, trials=trials, short=short, goal=goal,
            honest=name == "tie right", needs=("film",) if name.startswith("tie") else (),
        )
        for name, run, trials, short, goal in made
    ]  # fmt: skip
