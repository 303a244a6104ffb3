"""The second implementation leans on nothing of the product but the ledger's format."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[4]
ROOM = ROOT / "overlay" / "audit" / "recompute"
OWN = "overlay.audit.recompute"
ALLOWED = {"numpy", "pandas", "scipy.constants", "pynmea2", "overlay.ledger"}


def imported(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path} imports relatively"
            found.add(node.module or "")
    return found


def allowed(name: str) -> bool:
    if name.partition(".")[0] in sys.stdlib_module_names:
        return True
    return any(name == one or name.startswith(f"{one}.") for one in (OWN, *ALLOWED))


def test_the_room_is_there() -> None:
    assert len(list(ROOM.rglob("*.py"))) > 20


def test_only_what_may_be_is_imported() -> None:
    wrong = {
        (path.name, name)
        for path in ROOM.rglob("*.py")
        for name in imported(path)
        if not allowed(name)
    }
    assert wrong == set()


def test_the_rule_would_see_the_product() -> None:
    assert not allowed("overlay.analysis.smoothing")
    assert not allowed("overlay.figures")
    assert not allowed("sync.log")
    assert not allowed("sync.channel")
    assert not allowed("scipy.signal")
    assert not allowed("overlay.audit")


def test_what_is_loaded_has_nothing_of_the_product() -> None:
    """Followed through, also where a module imports inside a function."""
    program = (
        "import sys, pkgutil, importlib, overlay.audit.recompute as room\n"
        "for one in pkgutil.walk_packages(room.__path__, 'overlay.audit.recompute.'):\n"
        "    importlib.import_module(one.name)\n"
        "print(*sorted(sys.modules))\n"
    )
    told = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=60
    ).stdout.split()
    ours = {name for name in told if name.partition(".")[0] in ("overlay", "sync", "demo_media")}
    known = ("overlay.audit.recompute", "overlay.ledger")
    assert {name for name in ours if not name.startswith(known)} == {"overlay", "overlay.audit"}
