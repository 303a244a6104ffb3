"""Every kind of folder that is written whole keeps the same promises."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from overlay.errors import OutputError
from overlay.workflow.lineup_folder import LINEUP_FOLDER
from overlay.workflow.own_folder import OwnFolder
from overlay.workflow.report_folder import REPORT_FOLDER

KINDS = [REPORT_FOLDER, LINEUP_FOLDER]
FILES = {"one.txt": "one", "below/two.txt": "two"}


def kind_named(kind: OwnFolder) -> str:
    return kind.noun


def test_no_two_kinds_share_a_manifest_or_a_schema() -> None:
    assert len({kind.manifest for kind in KINDS}) == len({kind.schema for kind in KINDS}) == 2


@pytest.mark.parametrize("kind", KINDS, ids=kind_named)
def test_a_manifest_says_what_was_written(kind: OwnFolder, tmp_path: Path) -> None:
    kind.put(tmp_path / "made", FILES)
    told = json.loads((tmp_path / "made" / kind.manifest).read_text(encoding="utf-8"))
    hashes = {name: hashlib.sha256(text.encode()).hexdigest() for name, text in FILES.items()}
    assert told == {"schema": kind.schema, "files": hashes}
    kind.put(tmp_path / "made", {"one.txt": "anew"})
    names = {path.name for path in (tmp_path / "made").rglob("*") if path.is_file()}
    assert names == {"one.txt", kind.manifest}


@pytest.mark.parametrize("kind", KINDS, ids=kind_named)
def test_one_kind_does_not_take_the_place_of_another(kind: OwnFolder, tmp_path: Path) -> None:
    (other,) = (one for one in KINDS if one is not kind)
    other.put(tmp_path / "made", FILES)
    with pytest.raises(OutputError, match=f"no {kind.noun} of trialreel"):
        kind.put(tmp_path / "made", {"one.txt": "anew"})
    assert (tmp_path / "made" / "one.txt").read_text() == "one"


@pytest.mark.parametrize("kind", KINDS, ids=kind_named)
@pytest.mark.parametrize("manifest", ["[1, 2]", "null", '{"schema": 3}', "[" * 100_000])
def test_an_odd_manifest_is_no_manifest(kind: OwnFolder, manifest: str, tmp_path: Path) -> None:
    (tmp_path / "made").mkdir()
    (tmp_path / "made" / kind.manifest).write_text(manifest)
    with pytest.raises(OutputError, match=f"no {kind.noun} of trialreel"):
        kind.put(tmp_path / "made", FILES)
