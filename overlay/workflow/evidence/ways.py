"""Where cameras were: aboard or not, and how far their microphones from what they heard."""

from __future__ import annotations

from overlay.sheet.recording import Recording
from overlay.trial import Material
from sync.clues import sound_speed

CLAP_AWAY_M = 3.0
ENGINE_AWAY_M = 4.0
"""Distances from clap and engine to the microphone where nobody states them, and their
deviations where the same: aboard a small boat."""

ABOARD_M = 15.0
"""A camera further from the engine than this is on another boat, or ashore."""

STATED_SD_M = 0.5
STATED_SHARE = 0.1
"""Deviation of a distance that the sheet states: half a metre, or a tenth of it if that is
more, since a chase boat does not keep its place."""

AIR_K = 288.15
"""Air temperature where nobody states it, 15 °C: ten degrees are 2 % of a sound's way."""

AIR_SD_K, AIR_STATED_SD_K = 10.0, 2.0
"""Deviations of an air temperature that nobody states, and of one that the sheet does."""


def aboard(entry: Recording) -> bool:
    """Whether a camera is taken to be on the boat that is tested."""
    return entry.engine_distance is None or entry.engine_distance <= ABOARD_M


def clap_away(entry: Recording) -> tuple[float, float]:
    """How far the clap was from the microphone, and one standard deviation of it, in metres."""
    return _away(entry.clap_distance, CLAP_AWAY_M)


def engine_away(entry: Recording) -> tuple[float, float]:
    """How far the engine was from the microphone, and one standard deviation of it, in metres."""
    return _away(entry.engine_distance, ENGINE_AWAY_M)


def _away(stated: float | None, usual: float) -> tuple[float, float]:
    """A distance from the microphone, and one standard deviation of it."""
    if stated is None:
        return usual, usual
    return stated, max(STATED_SD_M, STATED_SHARE * stated)


def way_of_note_s(material: Material, entry: Recording) -> float:
    """How long the engine's sound is taken to need to the microphone."""
    return engine_away(entry)[0] / sound_speed(air_k(material))


def way_of_clap_s(material: Material, entry: Recording) -> float:
    """How long a clap is taken to need to the microphone."""
    return clap_away(entry)[0] / sound_speed(air_k(material))


def air_k(material: Material) -> float:
    """The air's temperature, from the sheet or else a usual one."""
    air = material.sheet.conditions.air_temperature
    return AIR_K if air is None else air


def air_sd_k(material: Material) -> float:
    """One standard deviation of the air's temperature."""
    stated = material.sheet.conditions.air_temperature is not None
    return AIR_STATED_SD_K if stated else AIR_SD_K
