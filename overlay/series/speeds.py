"""How fast jobs were on this machine, and what the next ones are estimated at by that.

Figures of the last jobs are kept in the cache folder, by encoder and effort. Where there are none,
the start values below stand in, and the plan says so.
"""

from __future__ import annotations

import json
import statistics
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from overlay.series.job import Guess
from sync.cache_folder import cache_folder, keep

FILE = "series-speeds.json"
MOST_KEPT = 60

START_S = 2.0
"""From the start of a process to its first frame, with logs that are kept (measured)."""

RENDER_S = {"x264": 0.022, "x265": 0.09, "svt-av1": 0.12, "prores": 0.03, "hardware": 0.02}
"""Processor seconds for a million pixels: x264 `veryfast` and ProRes measured
(tests/bench/burn.py), the others rough."""

EFFORT = {"ultrafast": 0.6, "veryfast": 1.0, "medium": 2.2, "slow": 3.5}

AUDIT_S = 0.012
"""Seconds of an audit for a million pixels, and below for a frame (measured on the demo)."""

AUDIT_FRAME_S = 0.01

BITS_A_PIXEL = {"x264": 0.10, "x265": 0.06, "svt-av1": 0.05, "prores": 2.4, "hardware": 0.15}

BASE_BYTES, FRAMES_HELD = 260_000_000, 70
"""Memory of a process before its film, and frames that decoder, belts and encoder hold."""

TIE_START_S, TIE_SHARE = 15.0, 0.15
"""Tying a trial: so long, and so much of its film's length (measured on the demo day)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Speeds:
    """What is known of the machine: rows by encoder and effort."""

    rows: Mapping[str, list[Mapping[str, float]]]

    @property
    def measured(self) -> int:
        """How many jobs the estimates rest on."""
        return sum(len(rows) for rows in self.rows.values())

    def guess(self, recipe: Mapping[str, Any], *, frames: int, pixels: int, audit: bool) -> Guess:
        """What a clip of so many frames is estimated to take."""
        million = frames * pixels / 1e6
        rows = self.rows.get(_name(recipe), [])
        if rows:
            render = million * _median(rows, "render_s_million")
            audited = [row for row in rows if row.get("audit_s_frame")]
            audit_s = (
                frames * _median(audited, "audit_s_frame") if audited else _audit(frames, million)
            )
            size = million * _median(rows, "bytes_million")
            start = _median(rows, "start_s")
        else:
            effort = EFFORT.get(str(recipe.get("preset")), 1.0)
            encoder = str(recipe["encoder"])
            render = million * RENDER_S[encoder] * effort
            audit_s = _audit(frames, million)
            size = million * 1e6 * BITS_A_PIXEL[encoder] / 8
            start = START_S
        return Guess(
            frames=frames,
            seconds=round(start + render + (audit_s if audit else 0.0), 2),
            audit_s=round(audit_s if audit else 0.0, 2),
            size_bytes=int(size),
            memory_bytes=self._memory(pixels, rows),
        )

    def _memory(self, pixels: int, rows: list[Mapping[str, float]]) -> int:
        """The most that jobs of such pictures took, and a tenth; else the start value."""
        alike = [row["peak_bytes"] for row in rows if 0.5 * pixels <= row["pixels"] <= 1.1 * pixels]
        if alike:
            return int(1.1 * max(alike))
        return int(BASE_BYTES + FRAMES_HELD * 1.5 * pixels)


def _audit(frames: int, million: float) -> float:
    return frames * AUDIT_FRAME_S + million * AUDIT_S


def _median(rows: list[Mapping[str, float]], key: str) -> float:
    return statistics.median(row[key] for row in rows)


def _name(recipe: Mapping[str, Any]) -> str:
    return f"{recipe['encoder']} {recipe.get('preset', '')} {recipe.get('crf', '')}"


def known_speeds() -> Speeds:
    """The figures that are kept; none where there are none that can be used."""
    try:
        given = json.loads((cache_folder() / FILE).read_bytes())
        rows: dict[str, list[Mapping[str, float]]] = {
            str(name): [{str(key): float(value) for key, value in row.items()} for row in kept]
            for name, kept in given.items()
        }
    except (OSError, ValueError, TypeError, AttributeError):
        rows = {}
    return Speeds(rows=rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class Took:
    """What a job took."""

    recipe: Mapping[str, Any]
    frames: int
    pixels: int
    start_s: float
    render_s: float
    audit_s: float
    size_bytes: int
    peak_bytes: int


def keep_speeds(jobs: list[Took]) -> None:
    """Add what jobs took to the figures; one that cannot be kept costs nothing but a guess."""
    rows = {name: list(kept) for name, kept in known_speeds().rows.items()}
    for took in jobs:
        million = took.frames * took.pixels / 1e6
        if million <= 0:
            continue
        row = {
            "render_s_million": took.render_s / million,
            "audit_s_frame": took.audit_s / took.frames,
            "bytes_million": took.size_bytes / million,
            "start_s": took.start_s,
            "pixels": float(took.pixels),
            "peak_bytes": float(took.peak_bytes),
        }
        name = _name(took.recipe)
        rows[name] = [*rows.get(name, []), row][-MOST_KEPT:]
    text = json.dumps(rows).encode()
    with suppress(OSError):
        keep(cache_folder() / FILE, lambda stream: _write(stream, text))


def _write(stream: Any, text: bytes) -> None:
    stream.write(text)
