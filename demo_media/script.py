"""The script of a day: what the helmsman does, as commands over time.

A lever position between -1 and 1 stands for a single-lever control: the first eighth either
way only works the gear, the rest opens the throttle. Between two commands the lever moves
at the pace that the later one asks for.
"""

from __future__ import annotations

from dataclasses import dataclass

DETENT = 0.12
"""Share of the lever's travel that works the gear alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """From `t_s` on, move the lever and the helm to new positions, each within a time.

    Parameters
    ----------
    t_s
        Seconds since the day's start.
    lever
        -1 full astern, 0 neutral, 1 full ahead.
    lever_s
        Time that the movement takes.
    course_deg
        Course to steer by compass; None leaves the helm to `helm`.
    helm
        -1 hard to port, 1 hard to starboard; used where no course is set.
    """

    t_s: float
    lever: float
    lever_s: float = 0.6
    course_deg: float | None = None
    helm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Script:
    """A day's commands and its length, from a first heading."""

    commands: tuple[Command, ...]
    length_s: float
    heading_deg: float

    def __post_init__(self) -> None:
        times = [command.t_s for command in self.commands]
        if not times or times != sorted(times):
            raise ValueError("a script needs commands in the order of their times")


def gear_of(lever: float) -> int:
    """Gear that a lever position has engaged: half of the detent is enough."""
    if abs(lever) < DETENT / 2:
        return 0
    return 1 if lever > 0 else -1


def opening_of(lever: float) -> float:
    """Throttle opening of a lever position, 0 inside the detent."""
    return min(max((abs(lever) - DETENT) / (1 - DETENT), 0.0), 1.0)


LAUNCH_T_S = 73.4
"""When the helmsman first moves the lever for the launch, in seconds of the day."""

LAUNCH_LEVER_S = 0.62
"""Time that the lever takes from neutral to its forward stop in the launch."""


def launch_morning() -> Script:
    """Idle out, stop, rest, launch to full throttle, hold, slow down and stop: three minutes."""
    return Script(
        heading_deg=22.0,
        length_s=180.0,
        commands=(
            Command(t_s=0.0, lever=0.10, course_deg=22.0),
            Command(t_s=6.0, lever=0.10, course_deg=62.0),
            Command(t_s=22.0, lever=0.0, course_deg=62.0),
            Command(t_s=27.0, lever=-0.10, lever_s=0.4, course_deg=62.0),
            Command(t_s=31.6, lever=0.0, lever_s=0.4, course_deg=62.0),
            Command(t_s=LAUNCH_T_S, lever=1.0, lever_s=LAUNCH_LEVER_S, course_deg=62.0),
            Command(t_s=103.0, lever=0.10, lever_s=1.6, course_deg=62.0),
            Command(t_s=116.0, lever=0.0, course_deg=62.0),
            Command(t_s=122.0, lever=-0.10, lever_s=0.4, course_deg=62.0),
            Command(t_s=126.0, lever=0.0, lever_s=0.4, course_deg=62.0),
        ),
    )
