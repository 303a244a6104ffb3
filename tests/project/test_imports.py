"""The road goes one way: who may import whom, followed through."""

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest
from sailed import logged, sailed, write_trial

from sync.cache_folder import CACHE_VARIABLE

ROOT = Path(__file__).parents[2]

ORDER = (
    "sync",
    "overlay.sheet",
    "overlay.delays",
    "overlay.fuel",
    "overlay.trial",
    "overlay.analysis",
    "overlay.figures",
    "overlay.ledger",
    "overlay.graphics",
    "overlay.render",
    "overlay.audit",
    "overlay.exchange",
    "overlay.report",
    "overlay.workflow",
    "overlay.series",
    "overlay.desk",
    "overlay.cli",
)
SAME_STEP = {frozenset({"overlay.figures", "overlay.ledger"})}
INSIDE_SYNC = (
    "sync.errors",
    "sync.units",
    "sync.clock",
    "sync.arrays",
    "sync.channel_kinds",
    "sync.channel",
    "sync.log",
    "sync.cache_folder",
    "sync.health",
    "sync.readers",
    "sync.log_cache",
    "sync.media",
    "sync.clue",
    "sync.clues",
    "sync.network",
    "sync.graph",
    "sync.tie",
    "sync.ties_file",
)
FREE = {"overlay.errors", "overlay"}


def modules() -> dict[str, Path]:
    found = {}
    for package in ("sync", "overlay", "demo_media"):
        for path in (ROOT / package).rglob("*.py"):
            parts = path.relative_to(ROOT).with_suffix("").parts
            name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
            found[name] = path
    return found


def imports_of(path: Path, name: str) -> set[str]:
    """Every module that a file imports, at its top, inside functions, or for types alone."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name} imports relatively"
            assert node.module is not None
            found.add(node.module)
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def room(module: str, rooms: tuple[str, ...]) -> str | None:
    return next((r for r in rooms if module == r or module.startswith(f"{r}.")), None)


def test_there_is_something_to_look_at() -> None:
    assert len(modules()) > 40


@pytest.mark.parametrize("rooms", [ORDER, INSIDE_SYNC], ids=["packages", "inside sync"])
def test_no_arrow_points_back(rooms: tuple[str, ...]) -> None:
    arrows = []
    for name, path in modules().items():
        here = room(name, rooms)
        if here is None:
            continue
        for target in imports_of(path, name):
            there = room(target, rooms)
            if there is None or target in FREE or there == here:
                continue
            if frozenset({here, there}) in SAME_STEP or rooms.index(there) > rooms.index(here):
                arrows.append((name, target))
    assert arrows == []


def test_sync_and_the_demo_know_nothing_of_overlay() -> None:
    known = [
        (name, target)
        for name, path in modules().items()
        if name.startswith(("sync", "demo_media"))
        for target in imports_of(path, name)
        if target.startswith("overlay")
    ]
    assert known == []


def test_nobody_but_the_command_line_prints() -> None:
    printing = [
        name
        for name, path in modules().items()
        if not name.startswith("overlay.cli")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id == "print"
    ]
    assert printing == []


def test_only_media_opens_footage() -> None:
    """PyAV is imported by the rooms that decode and encode, and by the demo's footage."""
    allowed = ("sync.media", "overlay.render", "demo_media")
    strangers = [
        name
        for name, path in modules().items()
        if not name.startswith(allowed) and {"av"} & imports_of(path, name)
    ]
    assert strangers == []


def loaded_by(statement: str) -> set[str]:
    code = f"{statement}\nimport sys\nprint('\\n'.join(sys.modules))"
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT.parent
    )
    return {line.partition(".")[0] for line in ran.stdout.splitlines()}


def loaded_modules(statement: str, folder: Path) -> set[str]:
    """Everything that is loaded after a statement, run in a folder, its cache there too."""
    code = f"{statement}\nimport sys\nprint('\\n'.join(sys.modules))"
    ran = subprocess.run(
        [sys.executable, "-P", "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=folder,
        env=os.environ | {CACHE_VARIABLE: str(folder / "cache")},
    )
    return set(ran.stdout.splitlines())


HEAVY = {"av", "cv2", "numpy", "pandas", "scipy", "pyproj", "pint", "pyarrow", "PIL", "pydantic"}


def test_help_loads_nothing_heavy() -> None:
    statement = "from overlay.cli.app import run\nrun(['--help'])"
    assert loaded_by(statement) & HEAVY == set()


def test_results_open_no_footage_and_draw_nothing() -> None:
    statement = "import overlay.workflow.results"
    assert loaded_by(statement) & {"cv2", "pyarrow"} == set()


NOT_TO_RENDER = {
    "asammdf",
    "can",
    "fontTools",
    "gpxpy",
    "matplotlib",
    "moviepy",
    "opentimelineio",
    "pandas",
    "pint",
    "pynmea2",
    "pyproj",
    "scipy",
    "tomlkit",
}
"""What a render has no use for once its logs are kept: each is a tenth of a second and more."""


def test_a_render_loads_what_it_draws_with_and_no_more() -> None:
    statement = "import overlay.cli.show, overlay.workflow.render"
    assert loaded_by(statement) & NOT_TO_RENDER == set()


def test_results_of_kept_logs_load_no_reader_and_no_scipy(tmp_path: Path) -> None:
    """All that a render works out before its first frame, of a day with steps, launches and
    turns; the first time, its logs are parsed."""
    write_trial(tmp_path, logged(sailed()))
    statement = (
        "from pathlib import Path\n"
        "from overlay.workflow.results import results\n"
        "assert results(Path('trial.toml')).results.launches\n"
    )
    first, second = (loaded_modules(statement, tmp_path) for _ in range(2))
    assert {"pandas", "sync.readers.delimited"} <= first
    assert second & (NOT_TO_RENDER | {"sync.readers"}) == set()
