"""Air at the propeller is told from the overshoot of a start and from an ordinary launch."""

from __future__ import annotations

import numpy as np
import pytest
from sailed import LAUNCH_S, T0, logged, sailed, script

from demo_media.boat import DEMO
from demo_media.script import Airing, Command, Script
from demo_media.simulate import simulate
from demo_media.swell import make_swell
from overlay.analysis.airing import flares
from sync.clock import Span

LAUNCHES = [done for done in script()[1] if done.what == "launch"]


@pytest.mark.parametrize("swell", [11, 12, 13])
@pytest.mark.parametrize("launch", LAUNCHES, ids=["out", "back"])
def test_a_clean_launch_has_no_flare(swell: int, launch) -> None:
    span = Span(start_s=T0 + launch.start_s, stop_s=T0 + launch.start_s + 20)
    assert flares(logged(sailed(swell)), span) == ()


@pytest.mark.parametrize(("after_s", "share"), [(2.8, 1.5), (3.3, 1.7), (5.0, 1.7), (8.0, 1.7)])
def test_air_in_a_launch_is_found_where_it_was(after_s: float, share: float) -> None:
    commands = (
        Command(t_s=0.0, lever=0.0, course_deg=45.0),
        Command(t_s=20.0, lever=1.0, lever_s=0.6, course_deg=45.0),
    )
    air = Airing(start_s=20 + after_s, stop_s=20 + after_s + 1.6, share=share)
    made = Script(commands=commands, length_s=20 + LAUNCH_S, heading_deg=45.0, airings=(air,))
    day = simulate(made, DEMO, make_swell(11, 220.0, DEMO.hull.length_m))
    found = flares(logged(day), Span(start_s=T0 + 20, stop_s=T0 + 40))
    assert len(found) == 1
    assert air.start_s - 0.2 <= found[0] - T0 <= air.stop_s + 0.8


def test_without_an_engine_log_nothing_is_said() -> None:
    channels = logged(sailed())
    del channels["engine_speed"]
    assert flares(channels, Span(start_s=T0, stop_s=T0 + 100)) == ()
    assert np.isfinite(channels["speed"].values).all()
