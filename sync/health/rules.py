"""What can be wrong with a sensor: one entry for every rule."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from sync.clock import Span


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule: its key, what it says in words, and why its thresholds are what they are."""

    key: str
    text: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ailment:
    """Something wrong with one channel.

    `rule` is a key of `RULES`; `text` says what is seen, without the channel's name and
    without a time; `span` is where, on the channel's clock, None for all of it.
    """

    rule: str
    channel: str
    text: str
    span: Span | None = None


def _table(*rules: Rule) -> Mapping[str, Rule]:
    return MappingProxyType({rule.key: rule for rule in rules})


RULES: Mapping[str, Rule] = _table(
    Rule(
        key="no_value",
        text="no value at all",
        why="the channel is in the file, so its sender was there and had nothing to say",
    ),
    Rule(
        key="silent",
        text="no value in more than half of its samples",
        why="what comes half the time carries no stretch of a run; course, which receivers "
        "leave out at rest, is spared",
    ),
    Rule(
        key="stuck",
        text="one and the same value for 5 s, while what goes with it moves",
        why="5 s is longer than a launch takes to its first mark; a channel in coarse steps "
        "gets 15 s, a lever two minutes, for it may be held",
    ),
    Rule(
        key="frozen",
        text="one and the same value for 5 s under way, where it otherwise changes",
        why="by how often the channel repeats itself under way, chance would do this less than "
        "once in a million days",
    ),
    Rule(
        key="at_limit",
        text="stays at its greatest or least value for a second",
        why="a live value passes its peak; one that is cut off stands at the limit in 10 "
        "samples on end and 5 times as often as at the value next to it",
    ),
    Rule(
        key="slow",
        text="a rate below an eighth of the rest of the log",
        why="fuel flow comes at a fifth of engine speed's rate on many a bus and is spared; an "
        "eighth is a setting that somebody forgot",
    ),
    Rule(
        key="sagging",
        text="fewer than half of its usual values in 10 s without a hole",
        why="a receiver that runs hot or a bus that is full drops single values, none of which "
        "is a hole by itself",
    ),
    Rule(
        key="repeated",
        text="a block of 5 s and 30 samples that is there twice",
        why="noise never repeats itself; a logger that wrote its buffer twice does. Blocks of "
        "fewer than 10 different values, or that stay more often than not, are spared: coarse "
        "steps may be alike by chance",
    ),
    Rule(
        key="frozen_position",
        text="a position that stays for 3 s with 1.5 m/s of speed",
        why="in 3 s the boat covers more than 4 m, a hundred times a receiver's last digit",
    ),
    Rule(
        key="tilted",
        text="4° of pitch or 3° of roll at rest",
        why="a boat at rest trims and lists by a degree or two; more is the sensor's mounting, "
        "and then pitch and roll mix in a turn",
    ),
    Rule(
        key="moved",
        text="a level at rest that changed by 2° of pitch or 4° of roll over the day",
        why="people and fuel shift a boat's level by less; a bracket that gave way shifts it more",
    ),
    Rule(
        key="burns_at_nought",
        text="no engine speed for 5 s, while fuel flows",
        why="0.5 L/h is half of what an engine idles on",
    ),
    Rule(
        key="speed_without_engine",
        text="6 m/s for 10 s with less than 900 rpm",
        why="a planing boat whose throttle is closed is below that within 5 s (simulated days)",
    ),
    Rule(
        key="engine_without_speed",
        text="3000 rpm for 10 s in gear with less than 1 m/s",
        why="a launch takes a second or two to leave 1 m/s behind",
    ),
    Rule(
        key="unrelated",
        text="engine speed and speed that do not rise and fall together",
        why="over a day in which both vary their correlation is above 0.9 (simulated days, see "
        "the tests); below 0.5 one of them is of another time or another boat",
    ),
    Rule(
        key="breaks_off",
        text="no value before or after a time, with the boat under way",
        why="an engine's data end with its key, at rest; above 3 m/s for 5 s nobody turns it",
    ),
)
"""All rules by key. Thresholds are the project's own choices, measured where it says so."""
