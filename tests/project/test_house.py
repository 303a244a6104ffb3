"""The house: what lies where, and that the tests test what is installed."""

import os
import pickle
import subprocess
import tomllib
from pathlib import Path

import pytest

import overlay
import overlay.errors
import sync
import sync.errors

ROOT = Path(__file__).parents[2]


def tracked() -> list[str]:
    ran = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if ran.returncode or not ran.stdout:
        pytest.skip("this copy of the project is not under git")
    return ran.stdout.splitlines()


def test_the_root_holds_what_the_design_allows() -> None:
    allowed = {
        "pyproject.toml",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "overlay",
        "sync",
        "tests",
        "demo_media",
    }
    roots = {name.partition("/")[0] for name in tracked()}
    assert {name for name in roots if not name.startswith(".")} <= allowed


def test_nothing_large_is_committed() -> None:
    large = [n for n in tracked() if (ROOT / n).is_file() and (ROOT / n).stat().st_size > 1_500_000]
    assert large == []


def test_no_two_test_files_share_a_name() -> None:
    names = [path.name for path in (ROOT / "tests").rglob("test_*.py")]
    assert len(names) == len(set(names))


def test_the_tests_run_against_an_installed_wheel() -> None:
    """As CI and the README's command have it; a developer's editable install is told apart by
    the record that pip keeps of it (PEP 610)."""
    import json
    from importlib.metadata import distribution

    record = json.loads(distribution("trialreel").read_text("direct_url.json") or "{}")
    if record.get("dir_info", {}).get("editable") and os.environ.get("CI") != "true":
        pytest.skip("trialreel is installed in editable form: this is a developer's run")
    assert "site-packages" in Path(sync.__file__).parts
    assert "site-packages" in Path(overlay.__file__).parts


def errors() -> list[type[sync.errors.TrialReelError]]:
    found = []
    stack = [sync.errors.TrialReelError]
    while stack:
        kind = stack.pop()
        found.append(kind)
        stack += kind.__subclasses__()
    return found


@pytest.mark.parametrize("kind", errors(), ids=lambda kind: kind.__name__)
def test_every_error_pickles_with_its_facts(kind: type[sync.errors.TrialReelError]) -> None:
    error = kind(
        "the sensor is stuck",
        path=Path("logs/gps.nmea"),
        line=12,
        key="speed",
        allowed=("a", "b"),
        advice="dry it",
    )
    back = pickle.loads(pickle.dumps(error))
    assert type(back) is kind
    assert str(back) == str(error)
    assert str(back) == (
        "logs/gps.nmea, line 12, speed: the sensor is stuck (allowed: a, b); dry it."
    )
    assert back.facts() == error.facts()


@pytest.mark.parametrize("kind", errors(), ids=lambda kind: kind.__name__)
def test_every_error_has_an_exit_code(kind: type[sync.errors.TrialReelError]) -> None:
    from overlay.cli.exit_codes import exit_code

    assert exit_code(kind("x")) in {1, 2, 3}


def test_constraints_name_every_dependency_and_no_place() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = [*project["dependencies"], *project["optional-dependencies"]["dev"]]
    lines = (ROOT / ".ci" / "constraints.txt").read_text(encoding="utf-8").splitlines()
    pinned = {line.partition("==")[0].lower().replace("_", "-") for line in lines}
    for requirement in wanted:
        name = requirement.partition(">")[0].partition("[")[0].strip().lower().replace("_", "-")
        assert name in pinned
    assert all("==" in line and "/" not in line for line in lines)
