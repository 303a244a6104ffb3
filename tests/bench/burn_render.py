"""What a render does for one clip, over a made-up launch that fills the film."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from overlay.analysis.signals import signal_of
from overlay.graphics.faceplate import load_faceplate
from overlay.graphics.picture import Picture
from overlay.graphics.plan import Plan, compile_plan
from overlay.graphics.subject import RunFace, RunMark, Subject
from overlay.ledger import LedgerWriter
from overlay.render import Recipe, burn
from sync.channel import Channel
from sync.clock import ClockMap
from sync.media import Footage, frame_times

CLOCK = ClockMap(from_clock="bench", to_clock="utc", offset_s=0.0)


def the_plan(footage: Footage, *, rgb: bool = False) -> Plan:
    """The launch faceplate: the boat gains way after a tenth of the film, and a mark falls in
    every fifth. In red, green and blue it is for MoviePy."""
    kind: dict[str, Any] = {"matrix": "rgb", "chroma": (1, 1)} if rgb else {}
    seconds = frame_times(footage).span.stop_s
    t = np.arange(-2.0, seconds + 2.0, 0.1)
    run = np.clip((t - 0.1 * seconds) / (0.9 * seconds), 0, 1)
    values = {
        "speed": 20 * np.sqrt(run),
        "engine_speed": 12 + 80 * np.tanh(5 * run),
        "pitch": 0.15 * np.sin(np.pi * run),
    }
    marks = tuple(share * seconds for share in (0.3, 0.5, 0.7, 0.9))
    signals = {
        name: signal_of(
            Channel(name=name, t_s=t, values=data, clock="utc"),
            {},
            marks if name == "speed" else (),
        )
        for name, data in values.items()
    }
    face = RunFace(
        kind="launch",
        title="launch 1",
        start_utc_s=0.1 * seconds,
        stop_utc_s=marks[-1],
        shown_from_utc_s=-1.0,
        shown_to_utc_s=seconds + 1.0,
        marks=tuple(
            RunMark(t_utc_s=m, label=f"{10 * k} mph", text=f"{m:.1f} s", value=m, sd=0.03)
            for k, m in enumerate(marks, start=1)
        ),
    )
    return compile_plan(
        load_faceplate("launch"),
        picture=Picture(width_px=footage.width, height_px=footage.height, **kind),
        subject=Subject(
            signals=signals, units="us", run=face, bands={"engine_speed": (5000 / 60, 6000 / 60)}
        ),
    )


def render(footage: Footage, output: Path, recipe: Recipe) -> None:
    """What `trialreel render` does for one clip: compile, burn, and keep the ledger."""
    plan = the_plan(footage)
    with LedgerWriter(output.with_suffix(".parquet"), {}) as ledger:
        burn(footage, output, plan=plan, clock_map=CLOCK, recipe=recipe, record=ledger.record)
