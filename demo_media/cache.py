"""Where the demo keeps what takes long to make, and what its name has to change with."""

from __future__ import annotations

import hashlib
import os
from importlib import resources
from pathlib import Path


def default_cache() -> Path:
    """Where things are kept where nobody says otherwise."""
    from platformdirs import user_cache_dir

    named = os.environ.get("TRIALREEL_CACHE")
    return Path(named) / "demo" if named else Path(user_cache_dir("trialreel")) / "demo"


def key_of(what: str) -> str:
    """A name that changes with a description and with any line of this package."""
    digest = hashlib.sha256(what.encode())
    package = resources.files("demo_media")
    for folder in (package, package / "scene"):
        for item in sorted(folder.iterdir(), key=lambda entry: entry.name):
            if item.name.endswith(".py"):
                digest.update(item.name.encode() + item.read_bytes())
    return digest.hexdigest()[:20]
