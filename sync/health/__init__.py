"""Sensors that are dead, stuck or at odds: what is wrong with the channels of a log.

Pure functions of channels; nothing is mended here. `log_ailments` looks at each channel of a
log by itself, `joint_ailments` at channels that stand on one clock and belong to one boat.
Every rule has an entry in `RULES`, with its thresholds and why they are what they are; a test
simulates each fault, and counts false alarms on sound days.
"""

from __future__ import annotations

from sync.health.alone import log_ailments
from sync.health.rules import RULES, Ailment, Rule
from sync.health.together import joint_ailments

__all__ = ["RULES", "Ailment", "Rule", "joint_ailments", "log_ailments"]
