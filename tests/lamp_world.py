"""A lamp that a crew lights for a camera aboard: held up to it, or on deck some metres off.

A torch or signal lamp is a few centimetres across and far brighter than daylight, so the picture
is clipped where it is, with a halo around it; what is held in a hand sways. Its glare lifts all
of the picture a little, and the camera's exposure gives way to it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from picture_world import HIGH, WIDE, Attitude, Floats, Grey, Lens, Shutter, World

from sync.media.small import SmallFrame

GLARE = 200.0
"""Grey levels that a lamp which fills the picture would lift all of it by."""

DIMS, DIM_S = 1.5, 0.4
"""How much the exposure gives way to a lamp that fills the picture, and how fast it does."""


@dataclass(frozen=True, kw_only=True)
class Lamp:
    """A lamp in the picture: where, how much of it, how bright, and when it is lit.

    `halo` is the light around it as a share of its own; `sway` how far a hand moves it, as a
    share of the picture's width.
    """

    across: float
    down: float
    share: float
    bright: float
    lit: tuple[tuple[float, float], ...]
    halo: float = 0.0
    sway: float = 0.0

    def shone(self, opens_s: float, shutter: Shutter) -> float:
        """The share of the time for which the shutter was open that the lamp was lit."""
        opens_s += self.down * shutter.readout_s
        closes_s = opens_s + max(shutter.open_s, 1e-4)
        both = (min(off, closes_s) - max(on, opens_s) for on, off in self.lit)
        return sum(max(0.0, one) for one in both) / (closes_s - opens_s)

    def drawn(self, picture: Grey, t_s: float, shone: float) -> Grey:
        """The picture with the lamp in it, lit for a share of the exposure."""
        if shone <= 0:
            return picture
        x = WIDE * (self.across + self.sway * math.sin(5.1 * t_s + 1) * math.cos(2.3 * t_s))
        y = HIGH * self.down + WIDE * self.sway * math.sin(4.3 * t_s) * math.cos(1.9 * t_s + 2)
        radius = math.sqrt(self.share * WIDE * HIGH / math.pi)
        columns, rows = np.arange(WIDE) + 0.5 - x, np.arange(HIGH) + 0.5 - y
        away = np.sqrt(columns[None] ** 2 + rows[:, None] ** 2)
        core = np.clip(radius + 0.5 - away, 0, 1) * min(1.0, 4 * radius**2)
        around = self.halo * np.exp(-((away / (2.5 * radius + 1)) ** 2))
        light = shone * np.maximum(core, around)
        lifted = picture + light * np.maximum(self.bright - picture, 0.0)
        return np.asarray(lifted + shone * GLARE * self.share, dtype=np.float32)


def filmed_lamp(
    world: World, of: Attitude, lens: Lens, lamp: Lamp, shutter: Shutter, times: Floats
) -> Iterator[SmallFrame]:
    """Frames stamped as the first row's shutter opens, on a sea that glitters and sprays."""
    gain, last = 1.0, float(times[0])
    for t_s in times.tolist():
        picture = world.frame(of, lens, t_s, shutter).astype(np.float32)
        shone = lamp.shone(t_s, shutter)
        wanted = 1.0 - DIMS * lamp.share * min(shone, 1.0)
        gain += (wanted - gain) * min((t_s - last) / DIM_S, 1.0)
        last = t_s
        seen = lamp.drawn(picture * np.float32(gain), t_s, min(shone, 1.0))
        yield SmallFrame(t_s=t_s, luma=world.taken(seen, lens))
