"""The helmsman's hand on the lever: it goes where a command says, and trims what it holds."""

from __future__ import annotations

import math

from demo_media.script import Command, Script

TRIM_PER_RPM_S = 6e-5
"""How fast the lever is trimmed, a second for each rpm off: some seconds to be there."""

TRIM_PER_MPS_S, LOOKS_AHEAD_S = 0.02, 5.0
QUICKEST_PER_S = 0.05
"""The same for a speed, with how far ahead he reckons with its rise or fall, since about the
hump a boat does not stay where it is; and the quickest that a lever is trimmed."""

CONTENT_RPM, CONTENT_MPS = 12.0, 0.06
"""Near enough for the helmsman: he leaves the lever alone."""

MISREAD_RPM, MISREAD_MPS = 9.0, 0.05
"""How far he is off in reading his instruments, now a little high and now a little low."""

LEAST_LEVER, MOST_LEVER = 0.13, 1.0
"""Between these he trims: ahead, and never out of gear."""


class Hand:
    """The lever over a script's time; it has to be asked step by step, as it remembers."""

    def __init__(self, script: Script) -> None:
        self._waiting = list(script.commands[1:])
        self._from = self.lever = _aim(script.commands[0], 0.0)
        self.command = script.commands[0]
        self._speed_mps = self._gain_mps2 = 0.0

    def move(self, t_s: float, step_s: float, rpm: float, speed_mps: float) -> float:
        """Where the lever is at a time, one step after the last that was asked for."""
        self._gain_mps2 = (speed_mps - self._speed_mps) / step_s
        self._speed_mps = speed_mps
        while self._waiting and t_s >= self._waiting[0].t_s - 1e-9:
            self._from = self._at(self._waiting[0].t_s)
            self.command = self._waiting.pop(0)
        if self._moved(t_s) < 1 or not self._holds():
            self.lever = self._at(t_s)
        else:
            trimmed = self.lever + self._trim(t_s, rpm, speed_mps) * step_s
            self.lever = min(max(trimmed, LEAST_LEVER), MOST_LEVER)
        return self.lever

    def _holds(self) -> bool:
        return self.command.rpm is not None or self.command.speed_mps is not None

    def _moved(self, t_s: float) -> float:
        """Share of the present command's movement that is done."""
        return min(max((t_s - self.command.t_s) / self.command.lever_s, 0.0), 1.0)

    def _at(self, t_s: float) -> float:
        if self._holds() and self._moved(t_s) >= 1:
            return self.lever
        aim = _aim(self.command, self._from)
        return self._from + (aim - self._from) * self._moved(t_s)

    def _trim(self, t_s: float, rpm: float, speed_mps: float) -> float:
        """How fast the lever is trimmed, a second."""
        high = math.sin(t_s * 0.31) + 0.6 * math.sin(t_s * 0.83 + 1.0)
        if self.command.rpm is not None:
            off = self.command.rpm - rpm + MISREAD_RPM * high
            pace = off * TRIM_PER_RPM_S if abs(off) > CONTENT_RPM else 0.0
        else:
            assert self.command.speed_mps is not None  # `_holds` has seen to that
            soon = speed_mps + LOOKS_AHEAD_S * self._gain_mps2
            off = self.command.speed_mps - soon + MISREAD_MPS * high
            pace = off * TRIM_PER_MPS_S if abs(off) > CONTENT_MPS else 0.0
        return min(max(pace, -QUICKEST_PER_S), QUICKEST_PER_S)


def _aim(command: Command, before: float) -> float:
    return before if command.lever is None else command.lever
