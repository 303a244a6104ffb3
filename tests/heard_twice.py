"""One scene of sound that two recorders heard, each on its own clock and with its own wind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from sounds import engine, orders, unit, wind

from sync.clues.sound.places import Heard

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Pair:
    """Two sounds, and what to add to a time on the one's clock to have the other's."""

    one: Heard
    other: Heard
    offset_at: Callable[[float], float]


def _scene(kind: str, seconds: float, rate: int, rng: np.random.Generator) -> Array:
    n = int(seconds * rate)
    knots = int(seconds / 4) + 3
    wander = np.interp(np.arange(n), np.linspace(0, n, knots), np.cumsum(rng.normal(0, 4, knots)))
    hz = np.clip(90 + wander, 40, 200)
    if kind == "loop":
        return np.resize(rng.standard_normal(rate // 20), n)
    if kind in ("pure note", "changing note"):
        phase = 2 * np.pi * np.cumsum(np.full(n, 80.0) if kind == "pure note" else hz) / rate
        return unit(orders(phase, [1 / k for k in range(1, int(0.4 * rate / hz.max()))]))
    return unit(engine(hz, seconds, rng, rate) + wind(seconds, rng, rate=rate))


def _at(sound: Array, place: Array) -> Array:
    """A sound between its samples, by cubics."""
    i = np.clip(np.floor(place).astype(int), 1, sound.size - 3)
    u = place - i
    a, b, c, d = (sound[i + k] for k in (-1, 0, 1, 2))
    return b + 0.5 * u * (c - a + u * (2 * a - 5 * b + 4 * c - d + u * (3 * (b - c) + d - a)))


def heard_twice(
    rng: np.random.Generator, *, lengths_s: tuple[float, float] = (50.0, 60.0), rate: int = 16000,
    noise_db: float = 0.0, drift: float = 20e-6, same: bool = True, scene: str = "under way",
    apart_s: float | None = None, late_s: float = 0.0,
) -> Pair:  # fmt: skip
    """Two recordings of one scene, or of two.

    Parameters
    ----------
    noise_db
        Level of what each recorder hears for itself, over the scene.
    drift
        How much faster the scene passes by the other's clock: seconds of it in its second.
    apart_s
        By how much the other begins later; anything that leaves most shared where None.
    late_s
        How much later all sound comes to the other.
    """
    begin = 1.0
    later = float(rng.uniform(-8.0, 8.0)) if apart_s is None else apart_s
    first = begin + max(0.0, -later)
    seconds = first + max(lengths_s[0], later + lengths_s[1] * (1 + abs(drift))) + 2.0
    of_one = _scene(scene, seconds, rate, rng)
    of_other = of_one if same else _scene(scene, seconds, rate, rng)
    level = 10 ** (noise_db / 20)
    starts = (float(rng.uniform(-5, 5)), float(rng.uniform(-5, 5)))

    def recorded(
        source: Array, at_s: float, length_s: float, rate_off: float
    ) -> NDArray[np.float32]:
        n = int(length_s * rate)
        own = unit(wind(length_s, rng, rate=rate) + 0.3 * rng.standard_normal(n))
        place = (at_s + np.arange(n) / rate * (1 + rate_off)) * rate
        return (0.1 * (_at(source, place) + level * own)).astype(np.float32)

    one = recorded(of_one, first, lengths_s[0], 0.0)
    other = recorded(of_other, first + later - late_s, lengths_s[1], drift)

    def offset_at(t_s: float) -> float:
        in_scene = first + t_s - starts[0]
        return starts[1] + (in_scene - first - later) / (1 + drift) - t_s

    return Pair(
        one=Heard(samples=one, rate_hz=rate, start_s=starts[0]),
        other=Heard(samples=other, rate_hz=rate, start_s=starts[1]),
        offset_at=offset_at,
    )
