"""The script of a day: what the helmsman does, as commands over time.

A lever position between -1 and 1 stands for a single-lever control: the first eighth either
way only works the gear, the rest opens the throttle. Between two commands the lever moves
at the pace that the later one asks for. A command may also ask for an engine speed or a speed:
then the helmsman, having moved the lever, trims it by what his instruments show (`hand`).
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
        -1 full astern, 0 neutral, 1 full ahead; None leaves it where it is.
    lever_s
        Time that the movement takes.
    course_deg
        Course to steer by compass; None leaves the helm to `helm`.
    helm
        -1 hard to port, 1 hard to starboard; used where no course is set.
    rpm
        Engine speed to hold by the tachometer once the lever is there.
    speed_mps
        Speed through the water to hold likewise.
    """

    t_s: float
    lever: float | None
    lever_s: float = 0.6
    course_deg: float | None = None
    helm: float = 0.0
    rpm: float | None = None
    speed_mps: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Airing:
    """A stretch in which the propeller is made to draw air, as by a wave or a weedy blade.

    `share` is how much of it, 1 as much as it draws by itself when it outruns the boat.
    """

    start_s: float
    stop_s: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Script:
    """A day's commands and its length, from a first heading."""

    commands: tuple[Command, ...]
    length_s: float
    heading_deg: float
    airings: tuple[Airing, ...] = ()

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
