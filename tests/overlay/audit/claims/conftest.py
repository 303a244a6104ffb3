"""A results document as the project writes it, and claims about it."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sailed import logged, sailed, write_trial

from overlay.analysis.document import document
from overlay.analysis.results import compute_results
from overlay.audit.claims import Claim, Judged, judge
from overlay.trial import build_trial, read_material
from overlay.workflow.align import ties_for

METRES_PER_NMI, LITRE, HOUR = 1852.0, 1e-3, 3600.0


@pytest.fixture(scope="session")
def day_document(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The results of a simulated day, through JSON and back as a reader gets them."""
    sheet = write_trial(tmp_path_factory.mktemp("claimed"), logged(sailed()))
    material = read_material(sheet, with_footage=False)
    trial = build_trial(material, ties_for(material))
    made: dict[str, Any] = json.loads(json.dumps(document(compute_results(trial), trial)))
    assert len(made["launches"]) == 2
    assert len(made["steps"]) >= 3
    return made


@pytest.fixture
def results(day_document: dict[str, Any]) -> dict[str, Any]:
    """That document with figures that are easily told: the first launch passes 30 mph in
    4.26 ± 0.05 s, and the second step runs 30 kn on 60 L/h, with 270 L to use of 300."""
    made = copy.deepcopy(day_document)
    row = next(row for row in made["launches"][0]["ladder"] if row["label"] == "30 mph")
    row |= {"time_s": 4.26, "sd_s": 0.05}
    fuel = 270 * LITRE
    for step, speed_kn, flow_lph in zip(made["steps"], (8, 30, 40), (20, 60, 90), strict=False):
        speed, flow = speed_kn * METRES_PER_NMI / HOUR, flow_lph * LITRE / HOUR
        step["ways"] = "both"
        step["speed"] = {"value": speed, "sd": 0.01}
        step["flow"] = {"value": flow, "sd": 0.02 * LITRE / HOUR}
        step["economy"] = {
            "per_volume_m": {"value": speed / flow, "sd": speed / flow * 1e-3},
            "range_m": {"value": fuel * speed / flow, "sd": 500.0},
            "endurance_s": {"value": fuel / flow, "sd": 10.0},
        }
    return made


@pytest.fixture
def told(results: dict[str, Any]) -> Callable[..., Judged]:
    """The verdict on one claim about that document."""

    def say(kind: str = "measured", **facts: str) -> Judged:
        return judge([Claim.model_validate({"kind": kind, **facts})], results)[0]

    return say


@pytest.fixture
def measured() -> Callable[..., list[Claim]]:
    """Measured claims from pairs of quantity and value."""

    def make(*pairs: tuple[str, str]) -> list[Claim]:
        return [
            Claim.model_validate({"kind": "measured", "quantity": quantity, "value": value})
            for quantity, value in pairs
        ]

    return make


@pytest.fixture
def claims_file(tmp_path: Path) -> Callable[[str], Path]:
    """A claims file of a text, with its schema."""

    def write(text: str, schema: str = 'schema = "claims/1"\n') -> Path:
        path = tmp_path / "claims.toml"
        path.write_text(schema + text, encoding="utf-8")
        return path

    return write
