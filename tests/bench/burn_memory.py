"""The most memory that a fresh process held while it rendered, or transcoded and did no more.

This file is also what that process runs:

    python tests/bench/burn_memory.py render FOOTAGE CLIP RECIPE_AS_JSON
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from burn_bare import Settings

MB = 1e6


def of_render(source: Path, output: Path, recipe: dict[str, Any]) -> float:
    """Peak of a process that renders, MB; the recipe by its fields."""
    return _peak_of("render", source, output, recipe)


def of_bare(source: Path, output: Path, settings: Settings) -> float:
    """Peak of a process that has nothing but PyAV, MB."""
    return _peak_of("bare", source, output, asdict(settings))


def _peak_of(what: str, source: Path, output: Path, how: dict[str, Any]) -> float:
    given = [sys.executable, __file__, what, str(source), str(output), json.dumps(how)]
    cache = {"TRIALREEL_CACHE": str(output.parent / "cache")}
    done = subprocess.run(
        given, check=False, env=os.environ | cache, capture_output=True, text=True
    )
    if done.returncode:
        raise RuntimeError(f"the process that was to {what} failed:\n{done.stderr}")
    return float(done.stdout.splitlines()[-1])


def _peak_mb() -> float:
    """What this process held at most.

    Linux hands `ru_maxrss` on from the parent to a process that it starts, so that a large parent
    hides a small child; VmHWM begins anew with the program.
    """
    status = Path("/proc/self/status")
    if status.exists():
        lines = status.read_text(encoding="ascii", errors="replace").splitlines()
        held = next(line for line in lines if line.startswith("VmHWM:"))
        return int(held.split()[1]) * 1024 / MB
    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / MB


def _child(what: str, source: Path, output: Path, how: dict[str, Any]) -> None:
    if what == "bare":
        from burn_bare import Settings, bare_transcode

        bare_transcode(source, output, Settings(**how))
    else:
        import pandas as pd  # noqa: F401 - as any process that has read a trial has
        from burn_render import render

        from overlay.render import Recipe
        from sync.media import probe

        render(probe(source), output, Recipe(**how))
    print(_peak_mb())


if __name__ == "__main__":
    _child(sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3]), json.loads(sys.argv[4]))
