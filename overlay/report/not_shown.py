"""What a page would have shown and cannot, each with the reason, where results do not say it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from overlay.analysis.turning import turn_rate
from overlay.report.summary_table import why_no_full_throttle

if TYPE_CHECKING:
    from overlay.analysis.results import Results
    from overlay.trial import Trial


def not_shown(results: Results, trial: Trial) -> tuple[str, ...]:
    """Reasons for figures and plots that are not there."""
    told = {item.partition(":")[0] for item in results.missing}
    return tuple(f"{what}: {why}" for what, why in _reasons(results, trial) if what not in told)


def _reasons(results: Results, trial: Trial) -> Iterator[tuple[str, str]]:
    channels = trial.channels
    if results.set_up.full_throttle is None:
        yield "full throttle", why_no_full_throttle(results, trial.sheet)
    if not results.set_up.top:
        yield "top speed", "no step was run both ways"
    if not any(turn.held for turn in results.turns):
        if turn_rate(channels) is None:
            yield "turns", "neither rate of turn nor heading is logged often enough"
        else:
            yield "turns", "none of half a circle and more was found"
    if not results.stops:
        yield "stops", "none from a planing speed was found"
    if not {"latitude", "longitude"} <= set(channels):
        yield "course of the day", "no log has places"
    if "pitch" not in channels:
        yield "bow angle", "no pitch is logged"
    if "sound_level" not in channels:
        yield "noise", "no sound level meter logged; a camera's microphone is none"
