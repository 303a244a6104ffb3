"""What every test has: a cache folder of its own, and footage that it makes for itself."""

from __future__ import annotations

import os
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


@pytest.fixture(scope="session")
def common_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of this run of the tests, one for all processes that share them out."""
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if os.environ.get("PYTEST_XDIST_WORKER") else base) / "common"
    folder.mkdir(exist_ok=True)
    return folder


@pytest.fixture
def common_cache(common_folder: Path, own_cache: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not a cache folder of the test's own: the demo's day is sailed and its logs are parsed once
    for all tests that ask for this."""
    monkeypatch.setenv("TRIALREEL_CACHE", str(common_folder / "cache"))


@pytest.fixture
def shoot(tmp_path: Path) -> Callable[..., Path]:
    """Make a film as `film.Film` describes it, under a name."""

    def make(name: str = "film.mp4", **facts: object) -> Path:
        return make_film(tmp_path / name, Film(**facts))

    return make
