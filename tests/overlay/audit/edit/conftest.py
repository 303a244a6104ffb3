"""Two recordings of one day with a clip of each, and how a film comes back from the editor."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from at_sea import Gray, Sea, World, luma_of, render, write_film

from sync.clock import Span
from sync.media import frame_times, probe


@pytest.fixture(scope="session")
def world(tmp_path_factory: pytest.TempPathFactory) -> World:
    folder = tmp_path_factory.mktemp("world")
    bow, chase = Sea(1), Sea(2, deck=False)
    paths = {
        "bow": write_film(folder / "bow.mp4", [bow.picture(n) for n in range(360)], 30, 20),
        "chase": write_film(folder / "chase.mp4", [chase.picture(n) for n in range(250)], 25, 20),
    }
    ledgers = {}
    for name, footage, span in (
        ("launch", "bow", Span(start_s=1.0, stop_s=11.0)),
        ("pursuit", "chase", Span(start_s=0.4, stop_s=9.2)),
    ):
        paths[name], ledgers[name] = render(paths[footage], folder, name, span, "launch")
    rates = {"bow": 30, "launch": 30, "chase": 25, "pursuit": 25}
    assert len(frame_times(probe(paths["launch"]))) == 300
    return World(folder=folder, rates_hz=rates, paths=paths, ledgers=ledgers)


@pytest.fixture
def encoded_twice(tmp_path: Path) -> Callable[[Sequence[Gray]], Path]:
    """A film as it comes back: written by the editor, and again by whoever passed it on."""

    def make(pictures: Sequence[Gray], rate_hz: int = 30, name: str = "film") -> Path:
        first = write_film(tmp_path / f"{name}-first.mp4", pictures, rate_hz, 23)
        return write_film(tmp_path / f"{name}.mp4", luma_of(first), rate_hz, 28)

    return make
