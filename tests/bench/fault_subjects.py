"""Faults of what is drawn as if the trial were another: its units, its sides, its marks."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import numpy as np
from false_clips import Take, TwoFaced, audited, faces, false_on, film, on_faceplate
from false_faces import lying, part_of, saying, scaled
from fault_ground import FAST, TWIN, Ground
from fault_judged import BOTH, PICTURE, labels_judged, numbers_judged
from fault_study import Fared, NoFaultError

from overlay.audit.verdict import Pair
from overlay.graphics.subject import RunMark, Subject

KMH = 0.44704 * 3.6
"""Kilometres an hour in a mile an hour (exact by the definition of the mile)."""


def _other_subject(take: Take, subject: Subject, *, both: bool) -> TwoFaced:
    """A picture of another subject, and the ledger's too if that is asked for."""
    plan = take.plan(subject)
    drawn = faces(take, plan, plan if both else None)
    if both:
        drawn.subject = subject
    return drawn


def unit_fault(rng: np.random.Generator, ground: Ground, *, which: str, both: bool) -> Fared:
    """Speed in miles an hour is called kilometres, or is given in them, or both."""
    take = ground.take(rng, str(rng.choice(["launch", "quiet", "bars", "two dials"])))
    subject = {
        "label": lambda: scaled(take.subject, "speed", 1 / KMH, "metric"),
        "number": lambda: scaled(take.subject, "speed", KMH),
        "whole": lambda: replace(take.subject, units="metric"),
    }[which]()
    drawn = _other_subject(take, subject, both=both)
    moved = {"speed", *_moved(drawn)}
    clip = film(take, drawn, ground.path())
    if which == "number" and not false_on(clip)["picture", "logs"]:
        raise NoFaultError  # she lies still, and nought is nought in any unit
    return labels_judged(audited(clip, take.crew), moved, BOTH if both else PICTURE)


def _moved(drawn: TwoFaced) -> set[str]:
    """Instruments that stand elsewhere, since another one became wider."""
    return {name for name, box in drawn.picture.boxes.items() if drawn.ledger.boxes[name] != box}


def side_fault(rng: np.random.Generator, ground: Ground, *, both: bool) -> Fared:
    """Port and starboard are exchanged."""
    take = ground.take(rng, str(rng.choice(TWIN)))
    subject = replace(take.subject, sides=(1, 0))
    clip = film(take, _other_subject(take, subject, both=both), ground.path())
    return numbers_judged(clip, take.crew)


def flag_time_fault(rng: np.random.Generator, ground: Ground, *, both: bool) -> Fared:
    """The figure on a flag is a tenth of a second off."""
    take = ground.take(rng, str(rng.choice(["launch", "twin"])), within=(2.5, 14.0))
    marks = list(take.subject.run.marks)
    there = [one for one in marks if one.t_utc_s < take.shown.stop_s - 0.5]
    if not there:
        raise NoFaultError
    mark = there[int(rng.integers(len(there)))]
    off = Decimal("0.1") * int(rng.choice([-1, 1]))
    number, _, unit = mark.text.partition(" ")
    text = str(Decimal(number) + off)
    if both:
        false = replace(mark, text=f"{text} {unit}", value=mark.value + float(off))
        marks[marks.index(mark)] = false
        subject = replace(take.subject, run=replace(take.subject.run, marks=tuple(marks)))
        drawn = _other_subject(take, subject, both=True)
    else:
        plan = take.plan()
        part = part_of(plan, "time", mark.label)
        lying(plan, part, lambda _, look: look and saying(part, look, text))
        drawn = faces(take, plan)
    return numbers_judged(film(take, drawn, ground.path()), take.crew, also=("time",))


def flag_drop_fault(rng: np.random.Generator, ground: Ground, *, way: int, both: bool) -> Fared:
    """A flag drops some frames early or late."""
    frames = int(rng.integers(1, 11)) * way
    name = str(rng.choice(["launch", "twin"]))
    crew = ground.crews["two" if name == "twin" else "one"]
    start = crew.results.launches[0]
    row = start.ladder[int(rng.integers(len(start.ladder)))]
    begin = row.t_s - start.start.t_s - 1.0
    take = ground.clock_take(rng, name, length_s=2.0, within=(begin, begin + 2.1))
    late_s = frames / FAST
    if both:
        marks = tuple(
            replace(one, t_utc_s=one.t_utc_s + late_s) if one.label == row.label else one
            for one in take.subject.run.marks
        )
        drawn = _other_subject(take, _with_marks(take.subject, marks), both=True)
    else:
        plan = take.plan()
        part = part_of(plan, "time", row.label)
        honest = part.look
        lying(plan, part, lambda t, _: honest(t - late_s))
        drawn = faces(take, plan)
    clip = film(take, drawn, ground.path())
    return numbers_judged(clip, take.crew, also=("time", "speed"), root=("time", row.label))


def _with_marks(subject: Subject, marks: tuple[RunMark, ...]) -> Subject:
    """Marks at other instants, which then take the place of the grid's in what speed shows."""
    speed = replace(subject.signals["speed"], marks_s=tuple(sorted(one.t_utc_s for one in marks)))
    return replace(
        subject,
        run=replace(subject.run, marks=marks),
        signals={**subject.signals, "speed": speed},
    )


def label_fault(rng: np.random.Generator, ground: Ground, *, both: bool) -> Fared:
    """Two instruments bear each other's label."""
    name = str(rng.choice(["launch", "quiet", "bars"]))
    take = ground.take(rng, name)
    false = on_faceplate(take.faceplate, speed="engine", engine="speed")
    plan = take.plan(faceplate=false)
    drawn = faces(take, plan, plan if both else None)
    if both:
        drawn.faceplate = false
    piece = audited(film(take, drawn, ground.path()), take.crew)
    pairs: tuple[Pair, ...] = BOTH if both else (("picture", "ledger"),)
    return labels_judged(piece, {"speed", "engine"}, pairs)
