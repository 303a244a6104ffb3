"""Faults in what a picture shows: digits, points, signs, clocks, numbers that stand still; and the
rows of all that has to do with numbers."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import fault_subjects as subjects
import numpy as np
from false_clips import Take, TwoFaced, audited, faces, film, told, verdict_of
from false_faces import Lie, lying, other_digit, part_of, saying
from fault_ground import FAST, GAPS_S, LATER, PLAIN, TWIN, Ground
from fault_judged import numbers_judged
from fault_study import Fared, NoFaultError, Row

from overlay.figures import MINUS, NO_VALUE
from overlay.graphics.instruments.base import Look
from overlay.ledger import Shown


def any_face(rng: np.random.Generator, ground: Ground) -> str:
    """A faceplate of those that there are runs for."""
    later = LATER if "day" in ground.crews else ()
    return str(rng.choice([*PLAIN, *TWIN, *later]))


def _one_number(take: Take, rng: np.random.Generator, fit: Callable[[str], bool]) -> Shown:
    """A number that is shown at some instant of a take."""
    t_utc_s = take.start_utc_s + rng.uniform(0.15, 0.85) * take.length_s
    there = [one for one in told(take.plan(), t_utc_s) if fit(one.text)]
    if not there:
        raise NoFaultError
    return there[int(rng.integers(len(there)))]


def text_fault(
    rng: np.random.Generator,
    ground: Ground,
    *,
    change: Callable[[str, np.random.Generator], str],
    fit: Callable[[str], bool],
    both: bool = False,
) -> Fared:
    """For one step of its grid a number is another."""
    take = ground.take(rng, any_face(rng, ground))
    at = _one_number(take, rng, fit)
    text = change(at.text, rng)

    plan = take.plan()
    part = part_of(plan, at.instrument, at.item)

    def lie(_: float, look: Look | None) -> Look | None:
        if look is None or look.shown[0].t_shown_s != at.t_shown_s:
            return look
        return saying(part, look, text)

    drawn = faces(take, lying(plan, part, lie), plan if both else None)
    return numbers_judged(film(take, drawn, ground.path()), take.crew)


def _signed(text: str, _: np.random.Generator) -> str:
    return text.removeprefix(MINUS) if text.startswith(MINUS) else f"{MINUS}{text}"


def _has_digit(text: str) -> bool:
    return any(letter.isdigit() for letter in text)


def clock_fault(rng: np.random.Generator, ground: Ground, *, both: bool) -> Fared:
    """The instruments run by 1 to 10 frames early or late."""
    late_s = int(rng.integers(1, 11)) / FAST * rng.choice([-1, 1])
    take = ground.clock_take(rng, str(rng.choice(["launch", "quiet", "twin"])), length_s=2.0)
    drawn = faces(take)
    drawn.picture_late_s, drawn.ledger_late_s = late_s, late_s if both else 0.0
    # A number may be the right one of a wrong instant, which a ledger says.
    also = tuple(drawn.picture.boxes) if both else ("time",)
    return numbers_judged(film(take, drawn, ground.path()), take.crew, also=also)


def _held(take: Take, drawn: Lie, instrument: str, item: str, *, both: bool) -> TwoFaced:
    plan = take.plan()
    lying(plan, part_of(plan, instrument, item), drawn)
    return faces(take, plan, plan if both else None)


def frozen_fault(rng: np.random.Generator, ground: Ground, *, both: bool) -> Fared:
    """A number stands still for 1 to 4 s."""
    length_s = float(rng.uniform(2.0, 4.0))
    name = any_face(rng, ground)
    take = ground.take(
        rng, name, length_s=length_s, film="demo" if "demo" in ground.films else None
    )
    at = _one_number(take, rng, _has_digit)
    since = take.start_utc_s + rng.uniform(0, 0.3) * take.length_s
    until = since + max(1.0, rng.uniform(0.3, 0.7) * take.length_s)
    plan = take.plan()
    stays = part_of(plan, at.instrument, at.item).look(since)
    drawn = _held(
        take, lambda t, look: stays if since <= t < until else look, at.instrument, at.item,
        both=both,
    )  # fmt: skip
    return numbers_judged(film(take, drawn, ground.path()), take.crew)


def stale_fault(rng: np.random.Generator, ground: Ground, *, both: bool) -> Fared:
    """Where the log has a hole the last value before it stays."""
    start, _ = GAPS_S[int(rng.integers(len(GAPS_S)))]
    launch = 73.4
    within = (start - launch - 1.0, start - launch + 1.5)
    take = ground.take(
        rng, str(rng.choice(["launch", "quiet", "bars"])), crew="gaps", within=within
    )
    part = part_of(take.plan(), "speed", "value")
    before = [
        look
        for back in np.arange(0.0, 4.0, 0.05)
        if (look := part.look(take.start_utc_s + (start - launch - within[0]) - back)) is not None
        and look.shown[0].text != NO_VALUE
    ]
    if not before:
        raise NoFaultError

    def lie(_: float, look: Look | None) -> Look | None:
        return before[0] if look is not None and look.shown[0].text == NO_VALUE else look

    drawn = _held(take, lie, "speed", "value", both=both)
    return numbers_judged(film(take, drawn, ground.path()), take.crew)


def honest(rng: np.random.Generator, ground: Ground) -> Fared:
    """Nothing is false."""
    films = ["sea", "spray"] if ground.short else sorted(ground.films)
    chosen = str(rng.choice(films))
    name = (
        str(rng.choice(["quiet", "launch", "twin"])) if chosen == "2160p" else any_face(rng, ground)
    )
    length_s = 1.0 if "fast" in chosen else 2.5
    crf = int(rng.choice([18, 23, 28]))
    take = ground.take(rng, name, film=chosen, length_s=length_s, crf=crf)
    piece = audited(film(take, faces(take), ground.path()), take.crew)
    outcome = verdict_of(piece, take.crew).outcome
    alarm = outcome == "disagrees"
    said = f"{chosen}, {name}, CRF {crf}: {outcome}, {piece.counts.unread} unread"
    told = [
        said,
        *(one.sentence for one in piece.disagreements[:2]),
        *(one.why for one in piece.unheld[:2]),
    ]
    return Fared(found=alarm, told="" if outcome == "agrees" else " ".join(told))


def _may_bear_a_sign(text: str) -> bool:
    """Speeds and angles; four digits have no room for one more letter on a dial."""
    return _has_digit(text) and (len(text) < 3 or "." in text)


DIGIT = partial(text_fault, change=other_digit, fit=_has_digit)
DECIMAL = partial(text_fault, change=lambda text, _: text.replace(".", ""), fit=lambda t: "." in t)
SIGN = partial(text_fault, change=_signed, fit=_may_bear_a_sign)

LARGE, DAY = ("large", "day", "film"), ("day", "film")


def shown_rows() -> list[Row]:
    """The table's rows."""
    rows = [
        Row(name="untouched", run=honest, trials=48, short=2, honest=True, needs=LARGE),
        Row(name="digit, picture", run=DIGIT, trials=44, short=1, needs=DAY),
        Row(name="digit, and ledger", run=partial(DIGIT, both=True), trials=20, short=1, needs=DAY),
        Row(name="decimal point", run=DECIMAL, trials=14, short=1, needs=DAY),
        Row(name="minus sign", run=SIGN, trials=14, short=1, needs=DAY),
    ]
    for both, where in ((False, "picture"), (True, "and ledger")):
        short = 0 if both else 1
        rows += [
            Row(
                name=f"clock, {where}",
                run=partial(clock_fault, both=both),
                trials=16,
                short=1,
                needs=("film",),
            ),
            *(
                Row(
                    name=f"unit: {which}, {where}",
                    run=partial(subjects.unit_fault, which=which, both=both),
                    trials=6,
                    short=short if which == "whole" else 0,
                )
                for which in ("label", "number", "whole")
            ),
            Row(
                name=f"sides, {where}",
                run=partial(subjects.side_fault, both=both),
                trials=10,
                short=short,
            ),
            Row(
                name=f"frozen, {where}",
                run=partial(frozen_fault, both=both),
                trials=12,
                needs=("film", "day"),
            ),
            Row(name=f"stale, {where}", run=partial(stale_fault, both=both), trials=8, short=1),
            Row(
                name=f"flag's time, {where}",
                run=partial(subjects.flag_time_fault, both=both),
                trials=8,
            ),
            Row(
                name=f"flag early, {where}",
                run=partial(subjects.flag_drop_fault, way=-1, both=both),
                trials=8,
                goal=None,
            ),
            Row(
                name=f"flag late, {where}",
                run=partial(subjects.flag_drop_fault, way=1, both=both),
                trials=8,
            ),
            Row(
                name=f"label, {where}",
                run=partial(subjects.label_fault, both=both),
                trials=6,
                goal=None if both else 1.0,
            ),
        ]
    return rows
