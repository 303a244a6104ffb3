"""What every test has: a cache folder of its own, and footage that it makes for itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from sync.one_thread import algebra_on_one_thread

algebra_on_one_thread()  # as the command line does, before anything imports numpy

from film import Film, make_film  # noqa: E402

from sync.media import frame_cache  # noqa: E402


@pytest.fixture(autouse=True)
def own_cache(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[None]:
    """Frame times are kept in a folder of the test, except where inputs are fetched."""
    if request.node.get_closest_marker("outside") is None:
        monkeypatch.setenv("TRIALREEL_CACHE", str(tmp_path / "cache"))
    frame_cache.forget()
    yield
    frame_cache.forget()


@pytest.fixture
def shoot(tmp_path: Path) -> Callable[..., Path]:
    """Make a film as `film.Film` describes it, under a name."""

    def make(name: str = "film.mp4", **facts: object) -> Path:
        return make_film(tmp_path / name, Film(**facts))

    return make
