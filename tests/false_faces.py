"""Plans that lie, and the crews whose runs they show."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from demo_media import make_demo
from overlay.analysis.signals import Sample
from overlay.analysis.smoothing import Law
from overlay.graphics.faceplate import Faceplate, InstrumentSpec, load_faceplate
from overlay.graphics.instruments import INSTRUMENTS
from overlay.graphics.instruments.bar import STEPS_A_PX, Bar
from overlay.graphics.instruments.base import Look, Part
from overlay.graphics.instruments.dial import SWEEP_RAD, Dial
from overlay.graphics.instruments.inclinometer import (
    HIGHEST,
    LOWEST,
    STEPS_A_RAD,
    Inclinometer,
)
from overlay.graphics.instruments.neatline import Strip
from overlay.graphics.plan import Plan
from overlay.graphics.subject import Subject

Lie = Callable[[float, "Look | None"], "Look | None"]
"""From an instant and what ought to be seen then to what is drawn."""


def part_of(plan: Plan, instrument: str, item: str) -> Part:
    """The part of a plan that shows a number, or moves a mark."""
    for part in plan.parts:
        for place in (*part.fields, *part.pointers):
            if (place.instrument, place.item) == (instrument, item):
                return part
    raise LookupError(f"the plan has no {instrument}, {item}")


def lying(plan: Plan, part: Part, lie: Lie) -> Plan:
    """The plan, with one part that draws, and says that it shows, something else."""
    honest = part.look
    part.by_sample = False  # type: ignore[misc] # what it shows follows from the lie as well
    part.look = lambda t_utc_s: lie(t_utc_s, honest(t_utc_s))  # type: ignore[method-assign]
    return plan


def saying(part: Part, look: Look, text: str) -> Look:
    """A look with another text in its place."""
    (shown,) = look.shown
    sample = Sample(t_s=shown.t_shown_s, value=shown.value)
    key = text if isinstance(look.key, str) else (text, *look.key[1:])  # type: ignore[misc]
    return Look(key=key, shown=(part._numeral.shown(text, sample, shown.unit),))  # type: ignore[attr-defined]


def sweep(part: Part) -> int:
    """How many of its finest steps a mark has from end to end of its scale."""
    if isinstance(part, Dial):
        return round(2 * SWEEP_RAD / part._step_rad)
    if isinstance(part, Bar):
        return (part._bar.right_px - part._bar.left_px) * STEPS_A_PX
    if isinstance(part, Inclinometer):
        return round((HIGHEST - LOWEST) * STEPS_A_RAD)
    assert isinstance(part, Strip)
    return int(part._at.axis.end_px - part._at.axis.zero_px)


def leaning(part: Part, look: Look, steps: int) -> Look:
    """A look whose mark stands so many steps further."""
    if isinstance(part, Strip):
        return look if look.key is None else Look(key=look.key + steps)  # type: ignore[operator]
    text, mark, held = look.key  # type: ignore[misc]
    return replace(look, key=(text, None if mark is None else mark + steps, held))


def scaled(subject: Subject, name: str, factor: float, units: str | None = None) -> Subject:
    """A subject one of whose channels has other values, in other units."""
    signals = {
        key: replace(
            one,
            channel=replace(one.channel, values=one.channel.values * factor),
            law=_scaled_law(one.law, factor),
        )
        if one.channel.name == name
        else one
        for key, one in subject.signals.items()
    }
    return replace(subject, signals=signals, units=units or subject.units)


def _scaled_law(law: Law, factor: float) -> Law:
    """An aided law reads what its aid keeps of the channel, which has to be scaled as well."""
    if law.aid is None:
        return law
    left = replace(law.aid.left, values=law.aid.left.values * factor)
    return replace(law, aid=replace(law.aid, left=left, gained_mps=law.aid.gained_mps * factor))


def spec(name: str, kind: str, channel: str = "", **told: Any) -> InstrumentSpec:
    options = {key: one.default for key, one in INSTRUMENTS[kind].options.items()}
    return InstrumentSpec(
        name=name, kind=kind, channel=channel, options=options | told.pop("options", {}), **told
    )


def face(name: str) -> Faceplate:
    """A faceplate that comes with the product, or one of these tests'."""
    return OWN[name] if name in OWN else load_faceplate(name)


OWN = {
    one.name: one
    for one in (
        Faceplate(
            name="bars",
            instruments=(
                spec("speed", "bar", "speed", anchor="bottom left"),
                spec("engine", "bar", "engine_speed", anchor="bottom right"),
                spec("lever", "readout", "throttle", anchor="top left"),
            ),
        ),
        Faceplate(
            name="strips",
            instruments=(
                spec("speed", "strip", "speed", anchor="bottom left"),
                spec("flow", "dial", "fuel_flow", anchor="bottom right"),
                spec("bow", "readout", "pitch", anchor="top left"),
            ),
        ),
        Faceplate(
            name="two dials",
            instruments=(
                spec("engines", "twin_dial", "engine_speed", anchor="bottom right"),
                spec("speed", "readout", "speed", anchor="bottom left", options={"size": "lead"}),
            ),
        ),
    )
}


def morning(folder: Path) -> Path:
    """The demo's first three minutes, with its one launch, without its film."""
    return make_demo(folder, part="morning", footage=False).sheet


def with_twins(folder: Path) -> Path:
    """The same with a second engine, which runs some revolutions off the first."""
    sheet = morning(folder)
    path = folder / "logs" / "engine.csv"
    head, *rows = path.read_text().splitlines()
    made = [f"{head.replace('rpm', 'rpm port')},rpm stbd"]
    for number, row in enumerate(rows):
        rpm = row.split(",")[1]
        other = float(rpm) * 0.94 + 60 * math.sin(number / 70) if rpm else math.nan
        made.append(f"{row},{round(other / 25) * 25:.2f}" if rpm else f"{row},")
    path.write_text("\n".join(made) + "\n")
    text = sheet.read_text(encoding="utf-8")
    first = text[text.index("[[engines]]") : text.index("[propeller]")]
    sheet.write_text(text.replace(first, first + first), encoding="utf-8")
    return sheet


def with_gaps(folder: Path, gaps_s: tuple[tuple[float, float], ...]) -> Path:
    """The same with no fix of the receiver during some stretches, in seconds of its log."""
    sheet = morning(folder)
    path = folder / "logs" / "gps.nmea"
    kept, first, out = [], None, False
    for line in path.read_text().splitlines():
        fields = line.split(",")
        if fields[0].endswith("RMC"):
            stamp = fields[1]
            t = int(stamp[:2]) * 3600 + int(stamp[2:4]) * 60 + float(stamp[4:])
            first = t if first is None else first
            out = any(start <= t - first < stop for start, stop in gaps_s)
        if not out:
            kept.append(line)
    path.write_text("\n".join(kept) + "\n")
    return sheet


def other_digit(text: str, rng: np.random.Generator) -> str:
    """A number with one of its digits, any, made another."""
    places = [at for at, letter in enumerate(text) if letter.isdigit()]
    at = int(rng.choice(places))
    digit = rng.choice([d for d in "0123456789" if d != text[at]])
    return f"{text[:at]}{digit}{text[at + 1 :]}"
