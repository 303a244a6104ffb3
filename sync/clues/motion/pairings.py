"""Which quantities in two logs the same motion moves: `PAIRINGS`, the one table of them."""

from __future__ import annotations

from dataclasses import dataclass

from sync.clues.motion.signals import Powers


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairing:
    """Two quantities, one in each log, that the same motion moves.

    Parameters
    ----------
    cause, effect
        Names of channels.
    text
        What they are, for a sentence.
    cause_slope, effect_slope
        Whether the rate of change is compared in place of the level.
    own, joint
        Powers of the effect's own level that explain it, and of cause and level that do
        so together.
    least
        The effect must change by this much to tell anything (SI, 2nd to 98th percentile).
    lag_s, lag_sd_s
        By how much the effect follows the cause in itself, and one standard deviation.
    under_way
        Whether the effect is of use only while the boat moves.
    alike
        Whether both measure one quantity in one unit.
    """

    cause: str
    effect: str
    text: str
    cause_slope: bool
    effect_slope: bool
    own: tuple[int, ...] = ()
    joint: tuple[Powers, ...] = ((1, 0),)
    least: float
    lag_s: float = 0.0
    lag_sd_s: float = 0.02
    under_way: bool = False
    alike: bool = True


THRUST: tuple[Powers, ...] = ((1, 0), (2, 0), (3, 0), (1, 1), (2, 1), (1, 2))
DRAG = (1, 2, 3, 4)

PAIRINGS = (
    Pairing(cause="speed", effect="speed", text="speed over ground in both",
            cause_slope=True, effect_slope=True, least=2.0),
    Pairing(cause="water_speed", effect="speed", text="speed through water and over ground",
            cause_slope=True, effect_slope=True, least=2.0, lag_sd_s=0.05),
    Pairing(cause="engine_speed", effect="engine_speed", text="engine speed in both",
            cause_slope=True, effect_slope=True, least=8.0),
    Pairing(cause="turn_rate", effect="turn_rate", text="rate of turn in both",
            cause_slope=False, effect_slope=False, least=0.05),
    Pairing(cause="heading", effect="heading", text="heading in both",
            cause_slope=True, effect_slope=True, least=0.3),
    Pairing(cause="course", effect="course", text="course over ground in both",
            cause_slope=True, effect_slope=True, least=0.3, under_way=True),
    Pairing(cause="pitch", effect="pitch", text="pitch in both",
            cause_slope=True, effect_slope=True, least=0.03),
    Pairing(cause="turn_rate", effect="heading", text="rate of turn and heading",
            cause_slope=False, effect_slope=True, least=0.3),
    Pairing(cause="turn_rate", effect="course", text="rate of turn and course over ground",
            cause_slope=False, effect_slope=True, least=0.3, lag_sd_s=0.05, under_way=True),
    Pairing(cause="heading", effect="course", text="heading and course over ground",
            cause_slope=True, effect_slope=True, least=0.3, lag_sd_s=0.05, under_way=True),
    Pairing(cause="engine_speed", effect="speed", text="engine speed and speed over ground",
            cause_slope=False, effect_slope=True, own=DRAG, joint=THRUST, least=2.0,
            lag_s=-0.04, lag_sd_s=0.06, alike=False),
    Pairing(cause="engine_speed", effect="water_speed", text="engine speed and speed through water",
            cause_slope=False, effect_slope=True, own=DRAG, joint=THRUST, least=2.0,
            lag_s=-0.04, lag_sd_s=0.08, alike=False),
    Pairing(cause="acceleration", effect="speed", text="acceleration and speed over ground",
            cause_slope=False, effect_slope=True, least=2.0, lag_s=-0.06, lag_sd_s=0.06),
)  # fmt: skip
"""Every pair of channels that is tried. Lags are what is left with the demo's boat, lighter and
heavier ones of its kind and noise as instruments have it (tests/bench/accuracy_sync.py); how far
another boat may differ is an estimate of our own. Pitch against speed is not among them: a hull
pitches up some tenths of a second after the thrust and either way in waves, and across boats
that set offsets half a second apart."""
