"""The results as a document: versioned, in SI throughout, with a JSON Schema from its model."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Literal

from overlay.analysis.air import Air
from overlay.analysis.attitude import LaunchAttitude
from overlay.analysis.both_ways import BothWays
from overlay.analysis.day import Stretch
from overlay.analysis.launches import Launch
from overlay.analysis.noise import StepNoise
from overlay.analysis.setup import SetUp
from overlay.analysis.sides import Sides
from overlay.analysis.steps import Step
from overlay.analysis.stopping import Stop
from overlay.analysis.timed import TimedRun
from overlay.analysis.turning import Turn
from overlay.documents import without_nan

if TYPE_CHECKING:
    from pydantic_core import core_schema

    from overlay.analysis.results import Results
    from overlay.trial import Trial

SCHEMA: Literal["results/1"] = "results/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class DefinitionUsed:
    """A definition that the results follow."""

    title: str
    text: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DelayUsed:
    """What was taken out of a channel's times [s], with one standard deviation; `origin` says
    whether it is stated, estimated or neither."""

    channel: str
    log: str
    delay_s: float
    sd_s: float
    origin: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """What `results.json` holds. Times are UTC in seconds since 1970, all else is in SI; a value
    that is not known is null. `units` is the set whose ladder the launches are timed by, and
    `flow_from` says where fuel flow comes from."""

    schema: Literal["results/1"]
    trial: str
    units: Literal["us", "nautical", "metric"]
    set_up: SetUp
    launches: tuple[Launch, ...]
    both_ways: BothWays
    attitudes: tuple[LaunchAttitude, ...]
    flow_from: str
    steps: tuple[Step, ...]
    idling: tuple[Step, ...]
    noise: tuple[StepNoise, ...]
    air: Air | None
    turns: tuple[Turn, ...]
    stops: tuple[Stop, ...]
    sides: Sides | None
    timed: tuple[TimedRun, ...]
    day: tuple[Stretch, ...]
    definitions: tuple[DefinitionUsed, ...]
    laws: dict[str, str]
    delays: tuple[DelayUsed, ...]
    missing: tuple[str, ...]


def document(results: Results, trial: Trial) -> dict[str, Any]:
    """The results as `results.json` holds them."""
    made = Document(
        schema=SCHEMA,
        trial=trial.sheet.name,
        units=trial.sheet.units,
        set_up=results.set_up,
        launches=results.launches,
        both_ways=results.both_ways,
        attitudes=results.attitudes,
        flow_from=trial.flow.text,
        steps=results.steps,
        idling=results.idling,
        noise=results.noise,
        air=results.air,
        turns=results.turns,
        stops=results.stops,
        sides=results.sides,
        timed=results.timed,
        day=results.day,
        definitions=tuple(
            DefinitionUsed(title=title, text=text, source=source)
            for title, text, source in results.definitions
        ),
        laws=dict(results.laws),
        delays=tuple(
            DelayUsed(
                channel=key, log=log, delay_s=late.delay_s, sd_s=late.sd_s, origin=late.origin
            )
            for key, log in trial.sources.items()
            for late in (trial.delays[key],)
        ),
        missing=results.missing,
    )
    plain = without_nan(asdict(made))
    assert isinstance(plain, dict)
    return plain


def results_schema() -> dict[str, Any]:
    """The document's JSON Schema, from its model."""
    from pydantic import TypeAdapter
    from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue

    class NumbersOrNull(GenerateJsonSchema):
        """JSON has no word for "not a number": null stands for it."""

        def float_schema(self, _: core_schema.FloatSchema) -> JsonSchemaValue:
            return {"type": ["number", "null"]}

    return TypeAdapter(Document).json_schema(schema_generator=NumbersOrNull)
