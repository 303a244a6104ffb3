"""The programme of the demo's day: what is done when, and what each stretch is for.

A `Plan` writes down both at once: the commands that the simulation obeys, and the pieces with
which results can be compared. The first three minutes, the launch morning, are a programme of
their own as well; the whole day begins with the very same commands.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from typing import Literal

from demo_media.script import Airing, Command, Script

Part = Literal["morning", "day"]
"""How much of the day: the launch morning alone, or all forty minutes."""

OUT_DEG, BACK_DEG = 62.0, 242.0
"""The two headings of the day, reciprocal to each other."""

LAUNCH_T_S = 73.4
"""When the helmsman first moves the lever for the first launch, in seconds of the day."""

LAUNCH_LEVER_S = 0.62
"""Time that the lever takes from neutral to its forward stop in that launch."""

FULL_S = 29.6
"""Time at full throttle in a launch."""

IDLE, STOP = 0.10, 0.0
"""Lever positions: in gear with the throttle shut, and out of gear."""

STEP_RPM = (1000, 1500, 2000, 2500, 3000, 3500, 4000, 4500, 5000, 5500)
"""Engine speeds of the steps between idle in gear and full throttle."""

_FIRST_GUESS = (0.187, 0.231, 0.288, 0.378, 0.50, 0.47, 0.535, 0.645, 0.795, 0.985)
"""Where the helmsman puts the lever for each of them, before he trims it."""

STEP_S, SETTLE_S = 40.0, 16.0
"""Length of a step, and how much of it passes before it counts as steady."""

HUMP_RPM, HUMP_S = 3500, 20.0
"""The step in which the boat climbs onto the plane, and how much longer it takes."""

CRUISE_MPS = 20 * 0.44704
"""The roll-on starts at 20 mph."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A stretch of the day with a purpose.

    `heading_deg` is None where it does not stay the same, `set_rpm` where no engine speed was
    held. A launch starts when the lever first moves.
    """

    name: str
    kind: str
    start_s: float
    stop_s: float
    heading_deg: float | None = None
    set_rpm: float | None = None
    spoiled: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """A script and its pieces."""

    script: Script
    pieces: tuple[Piece, ...]

    def piece(self, name: str) -> Piece:
        """The piece of a name."""
        return next(piece for piece in self.pieces if piece.name == name)


@dataclass(slots=True, kw_only=True)
class _Plan:
    """A programme that grows; `t_s` is how far it has got."""

    t_s: float = 0.0
    commands: list[Command] = field(default_factory=list)
    pieces: list[Piece] = field(default_factory=list)
    airings: list[Airing] = field(default_factory=list)

    def do(
        self,
        seconds: float,
        lever: float | None,
        course_deg: float | None,
        *,
        lever_s: float = 0.6,
        helm: float = 0.0,
        rpm: float | None = None,
        speed_mps: float | None = None,
    ) -> None:
        """Go on like this for a time."""
        self.commands.append(
            Command(t_s=self.t_s, lever=lever, lever_s=lever_s, course_deg=course_deg, helm=helm,
                    rpm=rpm, speed_mps=speed_mps)
        )  # fmt: skip
        self.t_s = round(self.t_s + seconds, 6)

    def note(
        self,
        name: str,
        kind: str,
        start_s: float,
        stop_s: float | None = None,
        heading_deg: float | None = None,
        *,
        set_rpm: float | None = None,
        spoiled: bool = False,
    ) -> None:
        """Write down what a stretch was for; it ends now where no end is given."""
        self.pieces.append(
            Piece(name=name, kind=kind, start_s=start_s,
                  stop_s=self.t_s if stop_s is None else stop_s, heading_deg=heading_deg,
                  set_rpm=set_rpm, spoiled=spoiled)
        )  # fmt: skip

    def done(self) -> Programme:
        """The programme as it stands."""
        script = Script(
            heading_deg=22.0,
            length_s=self.t_s,
            commands=tuple(self.commands),
            airings=tuple(self.airings),
        )
        return Programme(script=script, pieces=tuple(self.pieces))


@cache
def programme(part: Part) -> Programme:
    """The programme of a part of the day."""
    plan = _Plan()
    _morning(plan)
    if part == "day":
        _launches(plan)
        _steps(plan, OUT_DEG)
        _slow_down(plan, OUT_DEG)
        plan.do(26.0, IDLE, BACK_DEG)
        _steps(plan, BACK_DEG)
        _at_speed(plan)
        _stop_and_astern(plan)
    return plan.done()


def _morning(plan: _Plan) -> None:
    """Idle out, stop, rest, launch to full throttle, hold, slow down and stop: three minutes."""
    plan.do(6.0, IDLE, 22.0)
    plan.do(16.0, IDLE, OUT_DEG)
    plan.note("idle out", "idle", 8.0, 22.0)
    plan.do(5.0, STOP, OUT_DEG)
    plan.do(4.6, -IDLE, OUT_DEG, lever_s=0.4)
    plan.do(LAUNCH_T_S - plan.t_s, STOP, OUT_DEG, lever_s=0.4)
    plan.note("rest 1", "rest", 36.0, heading_deg=OUT_DEG)
    _launch(plan, 1, OUT_DEG, LAUNCH_LEVER_S)
    plan.do(13.0, IDLE, OUT_DEG, lever_s=1.6)
    plan.do(6.0, STOP, OUT_DEG)
    plan.do(4.0, -IDLE, OUT_DEG, lever_s=0.4)
    plan.do(54.0, STOP, OUT_DEG, lever_s=0.4)


def _launch(plan: _Plan, number: int, heading_deg: float, lever_s: float) -> None:
    """A launch from rest, held at full throttle."""
    start = plan.t_s
    plan.do(FULL_S, 1.0, heading_deg, lever_s=lever_s)
    spoiled = any(start <= air.start_s < plan.t_s for air in plan.airings)
    plan.note(f"launch {number}", "launch", start, None, heading_deg, spoiled=spoiled)


def _launches(plan: _Plan) -> None:
    """A warm-up, and three more launches with a rest before each."""
    plan.do(12.0, STOP, OUT_DEG)
    plan.note("rest 2", "rest", 132.0, heading_deg=OUT_DEG)
    start = plan.t_s
    plan.do(90.0, 0.288, OUT_DEG, lever_s=4.0, rpm=2000)
    plan.note("warm-up", "warm-up", start + SETTLE_S, None, OUT_DEG, set_rpm=2000)
    _slow_down(plan, OUT_DEG)
    for number, heading, lever_s in ((2, BACK_DEG, 0.55), (3, OUT_DEG, 0.71), (4, BACK_DEG, 0.64)):
        plan.do(27.0, IDLE, heading)
        plan.do(5.0, -IDLE, heading, lever_s=0.4)
        rest = plan.t_s
        plan.do(58.0, STOP, heading, lever_s=0.4)
        plan.note(f"rest {number + 1}", "rest", rest + 4.0, None, heading)
        if number == 3:
            plan.airings.append(Airing(start_s=plan.t_s + 3.3, stop_s=plan.t_s + 4.9, share=1.7))
        _launch(plan, number, heading, lever_s)
        _slow_down(plan, heading)


def _slow_down(plan: _Plan, heading_deg: float) -> None:
    """Throttle shut, the way comes off."""
    plan.do(16.0, IDLE, heading_deg, lever_s=1.6)


def _steps(plan: _Plan, heading_deg: float) -> None:
    """From idle in gear to full throttle, each engine speed held."""
    way = f"{heading_deg:03.0f}"
    plan.do(8.0, IDLE, heading_deg)
    start = plan.t_s
    plan.do(STEP_S, IDLE, heading_deg)
    plan.note(f"idle {way}", "step", start + SETTLE_S, plan.t_s - 1.0, heading_deg)
    for rpm, lever in zip(STEP_RPM, _FIRST_GUESS, strict=True):
        start = plan.t_s
        more = HUMP_S if rpm == HUMP_RPM else 0.0
        plan.do(STEP_S + more, lever, heading_deg, lever_s=1.1, rpm=rpm)
        steady, stop = start + SETTLE_S + more, plan.t_s - 1.0
        plan.note(f"{rpm} {way}", "step", steady, stop, heading_deg, set_rpm=rpm)
    start = plan.t_s
    plan.do(STEP_S, 1.0, heading_deg, lever_s=1.1)
    plan.note(f"full {way}", "step", start + SETTLE_S, plan.t_s - 1.0, heading_deg)


def _at_speed(plan: _Plan) -> None:
    """A roll-on from 20 mph, a turn each way, and a cruise."""
    plan.do(40.0, 0.52, BACK_DEG, lever_s=2.0, speed_mps=CRUISE_MPS)
    start = plan.t_s
    plan.do(16.0, 1.0, BACK_DEG, lever_s=0.6)
    plan.note("roll-on", "roll-on", start, None, BACK_DEG)
    for name, helm, after in (("starboard", 0.2, BACK_DEG), ("port", -0.2, OUT_DEG)):
        plan.do(26.0, 0.535, after if name == "starboard" else BACK_DEG, lever_s=1.5, rpm=4000)
        start = plan.t_s
        plan.do(24.0, None, None, helm=helm)
        plan.note(f"turn to {name}", "turn", start)
    start = plan.t_s + 24.0
    plan.do(220.0, 0.47, OUT_DEG, lever_s=1.5, rpm=3500)
    plan.note("cruise", "cruise", start, None, OUT_DEG, set_rpm=3500)


def _stop_and_astern(plan: _Plan) -> None:
    """A stop from full speed, idle in gear, astern, and the end of the day."""
    plan.do(30.0, 1.0, OUT_DEG, lever_s=1.2)
    start = plan.t_s
    plan.do(32.0, STOP, OUT_DEG, lever_s=0.5)
    plan.note("stop", "stop", start, None, OUT_DEG)
    start = plan.t_s
    plan.do(50.0, IDLE, OUT_DEG)
    plan.note("idle in gear", "idle", start + SETTLE_S, None, OUT_DEG)
    plan.do(8.0, STOP, OUT_DEG)
    start = plan.t_s
    plan.do(36.0, -0.26, OUT_DEG, lever_s=1.0)
    plan.note("astern", "astern", start + 2.0, None)
    start = plan.t_s + 8.0
    plan.do(2400.0 - plan.t_s, STOP, OUT_DEG, lever_s=0.8)
    plan.note("last rest", "rest", start)
