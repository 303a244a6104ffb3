"""How late a channel is: as stated, as the clues tell, or as doubtful as it is."""

from types import MappingProxyType

import numpy as np
import pytest

from overlay.delays import UNSTATED_SD_S, contradicted, delay_of, stated_delay
from overlay.sheet import TrialSheet
from sync.channel import Channel
from sync.clues import delay_name
from sync.tie import Settled, Ties

NONE = Ties(by_clock=MappingProxyType({}), refused=MappingProxyType({}))


def channel(name: str = "engine_speed", instance: int = 0) -> Channel:
    return Channel(
        name=name,
        instance=instance,
        clock="log:engine",
        t_s=np.arange(3.0),
        values=np.ones(3),
        source="column 'rpm'",
    )


def sheet(*sensors: dict[str, str]) -> TrialSheet:
    return TrialSheet.model_validate(
        {
            "schema": "trial/1",
            "logs": [{"name": "engine", "file": "engine.csv"}],
            "sensors": list(sensors),
        }
    )


def ties(value_s: float, sd_s: float, expected_sd_s: float) -> Ties:
    found = Settled(value_s=value_s, sd_s=sd_s, expected_sd_s=expected_sd_s)
    return Ties(
        by_clock=NONE.by_clock,
        refused=NONE.refused,
        doubts=MappingProxyType({delay_name("log:engine", "engine_speed"): found}),
    )


STATED = {"log": "engine", "channel": "engine_speed", "delay": "0.15 s", "delay_sd": "0.02 s"}


@pytest.mark.parametrize(
    ("key", "doubt"),
    [
        ("engine_speed", UNSTATED_SD_S),
        ("engine_speed.1", UNSTATED_SD_S),
        ("pitch", 0.1),
        ("depth", 0.0),
    ],
)
def test_what_nobody_states_is_nought_and_doubtful_where_channels_lag(
    key: str, doubt: float
) -> None:
    late = stated_delay(key, "engine", sheet())
    assert (late.delay_s, late.sd_s, late.origin) == (0.0, doubt, "unstated")


def test_what_the_sheet_states_is_taken_whatever_the_clues_say() -> None:
    late = delay_of(channel(), "engine", sheet(STATED), ties(0.03, 0.004, 0.02))
    assert (late.delay_s, late.sd_s, late.origin) == (0.15, 0.02, "stated")


def test_a_delay_that_nobody_states_is_taken_from_the_clues_where_they_settle_it() -> None:
    late = delay_of(channel(), "engine", sheet(), ties(0.14, 0.011, UNSTATED_SD_S))
    assert (late.delay_s, late.sd_s, late.origin) == (0.14, 0.011, "estimated")


def test_clues_that_hardly_narrow_the_doubt_settle_nothing() -> None:
    late = delay_of(channel(), "engine", sheet(), ties(0.1, 0.18, UNSTATED_SD_S))
    assert late.origin == "unstated"


def test_a_stated_delay_that_the_clues_contradict_is_told_with_both_figures() -> None:
    said = contradicted(channel(), "engine", sheet(STATED), ties(0.09, 0.005, 0.02))
    assert said is not None
    assert "0.15 ± 0.02 s" in said
    assert "0.24 s" in said
    assert contradicted(channel(), "engine", sheet(STATED), ties(0.02, 0.005, 0.02)) is None
    assert contradicted(channel(), "engine", sheet(), ties(0.9, 0.005, 0.2)) is None


def test_another_engines_delay_is_its_own() -> None:
    late = delay_of(channel(instance=1), "engine", sheet(), ties(0.14, 0.011, UNSTATED_SD_S))
    assert late.origin == "unstated"
