"""The demo without its footage, made once, and its noise-free day."""

from __future__ import annotations

from pathlib import Path

import pytest

from demo_media import DemoTrial, make_demo
from demo_media.day import demo_day
from demo_media.simulate import Day


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> DemoTrial:
    folder: Path = tmp_path_factory.mktemp("demo") / "trial"
    return make_demo(folder, footage=False)


@pytest.fixture(scope="session")
def day() -> Day:
    return demo_day()
