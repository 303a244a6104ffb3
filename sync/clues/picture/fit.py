"""At which offset a log's turning explains the picture's best, and how sure that is.

Each way that the picture turns is explained by the rates that can move it, with factors that
are fitted anew at every offset: a camera may look anywhere, through any lens. What is slower
than a few seconds is left out on both sides: swell carries the near water along, and a
picture's steps add up their errors.

All offsets are tried at once by correlations; the best few are then fitted exactly, to a
fraction of a step, by Newton's steps.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sync.arrays import Floats
from sync.clock import Span
from sync.clues.motion.signals import STEP_S, Series, instants, quick
from sync.clues.picture.signals import FELT_BY, SIGNALS, Logged, Seen

SLOW_S = 2.5
"""Half the stretch whose mean is taken off (own choice)."""

LEAST_COMMON = 0.3
"""Share of the footage that the log must hold at an offset for that to be tried: footage may
have been shot where the log has a hole."""

CANDIDATES = 10
APART_S = 0.4
"""Offsets that are fitted exactly, and how far apart they are: less than a wave."""

NEAR_S = 0.35
"""How far from the search's offset the exact fit may put it."""

BLOCK_S = 2.0
"""Errors further apart than this have nothing to do with each other."""

ROUNDS = 8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """An offset: ``t_log = t_footage + shift_s``, and how well it explains the picture.

    Parameters
    ----------
    sd_s
        One standard deviation of the shift, from the scatter of stretches of `BLOCK_S`.
    gain
        Σ −n ln(1 − R²) over the ways that the picture turns, n the independent instants,
        less one for every factor fitted.
    held
        Share of the footage that the log holds at this offset.
    r2
        R² by the name of the way.
    factors
        By the way, what a radian of each channel does to it.
    middle_s
        Where on the footage's clock the evidence has its middle.
    told_by
        By channel, its share of what is known of the shift.
    """

    shift_s: float
    sd_s: float
    gain: float
    held: float
    r2: dict[str, float]
    factors: dict[str, dict[str, float]]
    middle_s: float
    told_by: dict[str, float]

    @property
    def whole_gain(self) -> float:
        """What the gain would be if the log held all of the footage, and the rest fitted too."""
        return self.gain / self.held


def fits(seen: Seen, logged: Logged, windows: Sequence[Span]) -> list[Fit]:
    """The best few offsets, fitted exactly, the best first, as far as the log holds them."""
    if not np.any(logged.there) or not np.any(seen.worth):
        return []
    places = _search(seen, logged, windows)
    exact = _Exact(seen, logged)
    found: list[Fit] = []
    for place in places:
        fit = exact.near(place)
        if fit is not None and all(abs(fit.shift_s - one.shift_s) > APART_S / 2 for one in found):
            found.append(fit)
    return sorted(found, key=lambda one: -one.whole_gain)


def tried(seen: Seen, logged: Logged, windows: Sequence[Span]) -> float:
    """How many offsets are looked at that have nothing to do with each other."""
    length = (seen.rates.shape[0] + logged.there.size) * STEP_S
    if windows:
        length = min(length, math.fsum(window.length_s for window in windows))
    return float(max(length / APART_S, 2.0))


def _causes(logged: Logged, signal: str) -> list[str]:
    return [name for name in FELT_BY[signal] if name in logged.rates]


def independent(rates: Floats, worth: Floats) -> float:
    """How many independent instants a signal has.

    ::

        (Σ w)² / Σ w² / Σ ρ(k)²,   ρ its autocorrelation
    """
    total = float(np.sum(worth))
    if total <= 0 or not np.any(rates * worth):
        return 0.0
    values = rates * np.sqrt(worth)
    size = 1 << (2 * values.size).bit_length()
    power = np.abs(np.fft.rfft(values, size)) ** 2
    rho = np.fft.irfft(power)[: min(values.size, round(10 / STEP_S))]
    rho = rho / rho[0]
    spread = 1 + 2 * float(np.sum(rho[1:] ** 2))
    return float(total**2 / float(np.sum(worth**2)) / spread)


def _search(seen: Seen, logged: Logged, windows: Sequence[Span]) -> list[float]:
    """The offsets of the highest gains for what the log holds there, each the top of a peak."""
    from scipy.signal import correlate

    names = list(logged.rates)
    columns = quick(np.stack([logged.rates[n] for n in names], axis=1), logged.there, SLOW_S)
    log = {name: columns[:, k] for k, name in enumerate(names)}
    count = seen.rates.shape[0]
    lags = np.arange(-(count - 1), logged.there.size)
    gain = np.zeros(lags.size)
    common = np.zeros(lags.size)
    there = logged.there.astype(np.float64)

    def sums(first: Floats, second: Floats) -> Floats:
        return np.asarray(correlate(first, second, mode="full", method="fft"))

    for k, signal in enumerate(SIGNALS):
        causes = _causes(logged, signal)
        worth = seen.worth[:, k]
        if not causes or not np.any(worth):
            continue
        rates = quick(seen.rates[:, k], worth > 0, SLOW_S)
        power = sums(there, worth * rates**2)
        held = sums(there, worth) / np.sum(worth)
        gram = np.empty((lags.size, len(causes), len(causes)))
        right = np.empty((lags.size, len(causes)))
        for i, one in enumerate(causes):
            right[:, i] = sums(log[one], worth * rates)
            for j, other in enumerate(causes[: i + 1]):
                gram[:, i, j] = gram[:, j, i] = sums(log[one] * log[other], worth)
        size = float(np.max(np.abs(gram))) or 1.0
        gram += np.eye(len(causes)) * (1e-6 * size)
        solved = np.linalg.solve(gram, right[..., None])[..., 0]
        share = np.sum(solved * right, axis=1) / np.maximum(power, 1e-3 * float(np.max(power)))
        gain -= independent(rates, worth) * np.log1p(-np.clip(share, 0, 0.999))
        common = np.maximum(common, held)
    base = logged.start_s - seen.start_s
    shifts = base + STEP_S * lags
    allowed = common >= LEAST_COMMON
    if windows:
        allowed &= np.any([(shifts >= w.start_s) & (shifts <= w.stop_s) for w in windows], axis=0)
    return _tops(np.where(allowed, gain, 0.0), shifts)


def _tops(gain: Floats, shifts: Floats) -> list[float]:
    """The highest tops of a curve, apart from each other."""
    inner = (gain[1:-1] >= gain[:-2]) & (gain[1:-1] > gain[2:]) & (gain[1:-1] > 0)
    tops = np.flatnonzero(inner) + 1
    found: list[float] = []
    for k in tops[np.argsort(-gain[tops])].tolist():
        if all(abs(shifts[k] - other) > APART_S for other in found):
            found.append(float(shifts[k]))
        if len(found) == CANDIDATES:
            break
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Way:
    """One way of the picture at one shift: what is left over, how that moves with the shift,
    both over the noise, what it is worth, and how much of the film the log holds there."""

    left: Floats
    told: Floats
    gain: float
    held: float
    r2: float
    factors: dict[str, float]


class _Exact:
    """Exact fits of one recording to one log."""

    def __init__(self, seen: Seen, logged: Logged) -> None:
        from scipy.interpolate import CubicSpline

        self._seen, self._logged = seen, logged
        blank = Series(start_s=seen.start_s, values=seen.rates[:, 0])
        self._t = instants(blank)
        grid = instants(Series(start_s=logged.start_s, values=logged.there.astype(np.float64)))
        self._names = list(logged.rates)
        self._spline = CubicSpline(grid, np.stack(list(logged.rates.values()), axis=1))

    def near(self, place_s: float) -> Fit | None:
        """The best shift near one; None where it runs off, or nothing is told."""
        shift = place_s
        for _ in range(ROUNDS):
            ways = self._at(shift)
            worth = sum(float(np.sum(way.told**2)) for way in ways.values())
            if worth <= 0:
                return None
            step = sum(float(np.sum(way.left * way.told)) for way in ways.values()) / worth
            shift += max(min(step, 0.1), -0.1)
            if abs(shift - place_s) > NEAR_S:
                return None
            if abs(step) < 2e-4:
                break
        return self._fit(shift)

    def _fit(self, shift: float) -> Fit | None:
        ways = self._at(shift)
        if not ways:
            return None
        told = np.sum([way.told**2 for way in ways.values()], axis=0)
        both = np.sum([way.left * way.told for way in ways.values()], axis=0)
        worth = float(np.sum(told))
        block = np.arange(told.size) // round(BLOCK_S / STEP_S)
        parts, known = np.bincount(block, weights=both), np.bincount(block, weights=told)
        blocks = worth**2 / float(np.sum(known**2))
        scatter = float(np.sum(parts**2)) * (1 + 2 / max(blocks - 1, 0.5))
        by: dict[str, float] = {}
        for way in ways.values():
            size = math.fsum(abs(f) for f in way.factors.values()) or 1.0
            for name, factor in way.factors.items():
                part = float(np.sum(way.told**2)) / worth * abs(factor) / size
                by[name] = by.get(name, 0.0) + part
        return Fit(
            shift_s=shift,
            sd_s=math.sqrt(max(scatter, worth)) / worth,
            gain=sum(way.gain for way in ways.values()),
            held=max(way.held for way in ways.values()),
            r2={name: way.r2 for name, way in ways.items()},
            factors={name: way.factors for name, way in ways.items()},
            middle_s=float(np.average(self._t, weights=told)),
            told_by=by,
        )

    def _at(self, shift: float) -> dict[str, _Way]:
        """Every way of the picture fitted at one shift."""
        t = self._t + shift
        place = np.round((t - self._logged.start_s) / STEP_S).astype(np.int64)
        inside = (place >= 0) & (place < self._logged.there.size)
        inside &= self._logged.there[np.clip(place, 0, self._logged.there.size - 1)]
        rates = np.where(inside[:, None], self._spline(t), 0.0)
        moves = np.where(inside[:, None], self._spline(t, 1), 0.0)
        ways = {}
        for k, signal in enumerate(SIGNALS):
            causes = _causes(self._logged, signal)
            mine = [self._names.index(name) for name in causes]
            worth = np.where(inside, self._seen.worth[:, k], 0.0)
            held = float(np.sum(worth)) / max(float(np.sum(self._seen.worth[:, k])), 1e-9)
            if not causes or held < LEAST_COMMON:
                continue
            way = _way(self._seen.rates[:, k], rates[:, mine], moves[:, mine], worth, causes, held)
            if way is not None:
                ways[signal] = way
        return ways


def _way(
    seen: Floats, rates: Floats, moves: Floats, worth: Floats, causes: list[str], held: float
) -> _Way | None:
    """One way of the picture by weighted least squares."""
    there, root = worth > 0, np.sqrt(worth)
    if np.count_nonzero(there) < 20:
        return None
    y = quick(seen, there, SLOW_S) * root
    x = quick(rates, there, SLOW_S) * root[:, None]
    d = quick(moves, there, SLOW_S) * root[:, None]
    gram = x.T @ x
    gram += np.eye(len(causes)) * (1e-9 * float(np.trace(gram)) + 1e-30)
    factors = np.linalg.solve(gram, x.T @ y)
    left = y - x @ factors
    told = d @ factors
    told = told - x @ np.linalg.solve(gram, x.T @ told)
    power = float(np.sum(y**2))
    if power <= 0:
        return None
    r2 = min(max(1 - float(np.sum(left**2)) / power, 0.0), 0.999)
    count = independent(seen, worth)
    noise = max(math.sqrt(float(np.sum(left**2)) / float(np.sum(worth))), 1e-6)
    return _Way(
        left=left / noise,
        told=told / noise,
        gain=-count * math.log1p(-r2) - len(causes),
        held=held,
        r2=r2,
        factors=dict(zip(causes, factors.tolist(), strict=True)),
    )
