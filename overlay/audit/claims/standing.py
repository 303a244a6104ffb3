"""The figures of a results document, each by the name that a claim calls it by.

The document is read as the mapping that its JSON is (`results/1`), not through what wrote it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from overlay.audit.claims.figure import Figure, SpanS
from overlay.audit.claims.measures import BY_NAME
from overlay.errors import AnalysisError

SCHEMA = "results/1"

Document = Mapping[str, Any]

ONE_WAY = "it was run in one direction only and has current and wind in it"


def figures_of(document: Document) -> tuple[Figure, ...]:
    """Every figure that a results document has, also those without a value.

    Raises
    ------
    AnalysisError
        Where this is no results document, or one that is not whole.
    """
    schema = document.get("schema") if isinstance(document, Mapping) else None
    if schema != SCHEMA:
        raise AnalysisError(
            f"this is no results document, its schema is {schema!r}",
            allowed=(SCHEMA,),
            advice="`trialreel results` writes one",
        )
    try:
        return tuple(_all(document))
    except (KeyError, TypeError, IndexError, AttributeError) as cause:
        raise AnalysisError(
            f"this results document is not whole ({type(cause).__name__}: {cause})",
            advice="`trialreel results` writes it anew",
        ) from cause


def _all(document: Document) -> Iterator[Figure]:
    launches = document["launches"]
    for launch in launches:
        yield from _launch(launch)
    yield from _both_ways(document["both_ways"]["times"], launches)
    for attitude in document["attitudes"]:
        yield from _attitude(attitude, launches)
    more = {one["name"]: one for one in document["set_up"]["steps"]}
    noise = {one["name"]: one for one in document["noise"]}
    steps = [
        figure
        for number, step in enumerate(document["steps"], start=1)
        for figure in _step(f"step {number}", step, more.get(step["name"]), noise)
    ]
    yield from steps
    for step in document["idling"]:
        yield from _step(step["name"], step, None, {})
    yield from _set_up(document["set_up"], steps)
    for number, turn in enumerate(document["turns"], start=1):
        yield from _turn(f"turn {number}", turn)
    for number, stop in enumerate(document["stops"], start=1):
        yield from _stop(f"stop {number}", stop)
    yield from _timed(document["timed"])


def known(value: Any) -> float:
    """A number of the document; NaN for null."""
    return float(value) if isinstance(value, int | float) else math.nan


def _mean(run: str, measure: str, mean: Document, **more: Any) -> Figure:
    return Figure(
        run=run,
        measure=BY_NAME[measure],
        value=known(mean["value"]),
        sd=known(mean["sd"]),
        **more,
    )


def _single(run: str, measure: str, value: Any, **more: Any) -> Figure:
    """A figure for which the document states no uncertainty."""
    return Figure(run=run, measure=BY_NAME[measure], value=known(value), sd=math.nan, **more)


def _span(span: Document) -> SpanS:
    return known(span["start_s"]), known(span["stop_s"])


def _launch(launch: Document) -> Iterator[Figure]:
    run, start_s = launch["name"], known(launch["start"]["t_s"])
    whole = ((start_s, known(launch["stop_s"])),)
    remark = "it is one launch, in one direction"
    passed = {row["label"]: known(row["t_s"]) for row in launch["ladder"]}
    for row in launch["ladder"]:
        mean = {"value": row["time_s"], "sd": row["sd_s"]}
        spans = ((start_s, known(row["t_s"])),)
        yield _mean(run, "time to", mean, label=row["label"], spans=spans, remark=remark)
        yield _single(run, "distance to", row["distance_m"], label=row["label"], spans=spans)
    for row in launch["roll_on"]:
        ends = _ends(row["label"])
        spans = ((passed[ends[0]], passed[ends[1]]),) if all(e in passed for e in ends) else whole
        yield _mean(run, "time from", row["time_s"], label=row["label"], spans=spans, remark=remark)
    for label, why in launch["missed"]:
        yield _single(run, "time to", None, label=label, spans=whole, remark=str(why))
    yield _single(run, "peak speed", launch["peak_speed_mps"], spans=whole)
    yield _single(run, "peak acceleration", launch["peak_acceleration"], spans=whole)
    yield _single(run, "mean acceleration", launch["mean_acceleration"], spans=whole)


def _ends(label: str) -> tuple[str, str]:
    """The two speeds of `10 to 20 mph`, each with its unit."""
    low, _, high = label.partition(" to ")
    return f"{low} {high.partition(' ')[2]}", high


def _both_ways(times: Sequence[Document], launches: Sequence[Document]) -> Iterator[Figure]:
    for row in times:
        spans = tuple(
            (known(launch["start"]["t_s"]), known(passage["t_s"]))
            for launch in launches
            if launch["name"] in row["launches"]
            for passage in launch["ladder"]
            if passage["label"] == row["label"]
        )
        runs = ("both ways", "mean both ways", "from rest")
        remark = f"it is the mean both ways of {', '.join(row['launches'])}"
        more: dict[str, Any] = {"label": row["label"], "spans": spans, "runs_too": runs}
        yield _mean("", "time to", row["time_s"], remark=remark, **more)
        yield _single("", "distance to", row["distance_m"], remark=remark, **more)


def _attitude(attitude: Document, launches: Sequence[Document]) -> Iterator[Figure]:
    run = attitude["launch"]
    start_s, stop_s = next(
        (known(one["start"]["t_s"]), known(one["stop_s"])) for one in launches if one["name"] == run
    )
    to_plane = start_s + known(attitude["plane_s"]["value"])
    to_peak = start_s + known(attitude["peak_s"])
    why = "; ".join(attitude["missing"])
    yield _mean(run, "bow rise", attitude["bow_rise"], spans=((start_s, to_peak),), remark=why)
    yield _mean(run, "time to plane", attitude["plane_s"], spans=((start_s, to_plane),), remark=why)
    yield _single(run, "speed on the plane", attitude["plane_mps"], spans=((to_plane, to_plane),))
    yield _mean(run, "time with the bow high", attitude["above_s"], spans=((start_s, stop_s),))


def _step(
    run: str, step: Document, more: Document | None, noise: Mapping[str, Document]
) -> Iterator[Figure]:
    spans = tuple(_span(span) for one in step["passes"] for span in one["spans"])
    names = (step["name"], f"step {step['name']}") if step["name"] != run else ()
    facts: dict[str, Any] = {
        "spans": spans,
        "runs_too": names,
        "remark": "" if step["ways"] == "both" else ONE_WAY,
    }
    for measure in ("engine_speed", "speed", "flow"):
        title = {"flow": "fuel flow"}.get(measure, measure.replace("_", " "))
        yield _mean(run, title, step[measure], **facts)
    yield _mean(run, "bow angle", step["pitch"], **facts)
    economy = step["economy"]
    yield _mean(run, "economy", economy["per_volume_m"], **facts)
    yield _mean(run, "fuel per distance", economy["per_volume_m"], **facts).turned_over()
    yield _mean(run, "range", economy["range_m"], **facts)
    yield _mean(run, "endurance", economy["endurance_s"], **facts)
    if more is not None:
        yield _mean(run, "slip", more["slip"], **facts)
        yield _mean(run, "running trim", more["trim"], **facts)
    if step["name"] in noise:
        yield _mean(run, "noise", noise[step["name"]]["level"], **facts)


def _set_up(set_up: Document, steps: Sequence[Figure]) -> Iterator[Figure]:
    """The figures of the trial as a whole, those of the step that each is of among them."""
    for key, measure, of in (
        ("top", "top speed", "speed"),
        ("lowest_planing", "lowest planing speed", "speed"),
        ("best", "best economy", "economy"),
        ("best", "best range", "range"),
        ("best_planing", "best planing economy", "economy"),
        ("best_planing", "best planing range", "range"),
    ):
        name = set_up[key]
        found = next(
            (one for one in steps if name and name in one.runs_too and one.measure.name == of),
            None,
        )
        if found is None:
            yield _single("", measure, None, remark="no step that was run both ways has it")
        else:
            remark = f"it is that of {found.run}, {name}"
            yield replace(
                found,
                run="",
                runs_too=(),
                measure=BY_NAME[measure],
                remark=remark,
                of=(found.run, of),
            )
    full = set_up["full_throttle"]
    if full is not None:
        yield _mean("full throttle", "engine speed", full["engine_speed"])
    yield _mean("", "weighted fuel flow", set_up["weighted_flow"]["flow"],
                remark=str(set_up["weighted_flow"]["why_not"]))  # fmt: skip
    mass = set_up["mass"]
    if mass is not None:
        remark = f"it is {mass['origin']}"
        yield _single("", "mass", mass["value_kg"], remark=remark, stated=True)
    yield _single("", "power to mass", set_up["power_to_mass"], stated=True)


def _turn(run: str, turn: Document) -> Iterator[Figure]:
    whole, held = (_span(turn["span"]),), turn["held"]
    settled = whole if held is None else (_span(held),)
    for key, measure in (
        ("diameter_m", "diameter"),
        ("rate", "rate of turn"),
        ("speed", "speed"),
        ("heel", "heel"),
        ("centripetal", "sideways acceleration"),
    ):
        one = _mean(run, measure, turn[key], spans=settled)
        # Its sign says to which side; what is claimed is how much.
        yield replace(one, value=abs(one.value))
    yield _single(run, "entry speed", turn["entry_mps"], spans=whole)
    yield _single(run, "least speed", turn["least_mps"], spans=whole)


def _stop(run: str, stop: Document) -> Iterator[Figure]:
    spans = (_span(stop["span"]),)
    yield _mean(run, "entry speed", stop["entry"], spans=spans)
    yield _mean(run, "stopping time", stop["time_s"], spans=spans)
    yield _mean(run, "stopping distance", stop["distance_m"], spans=spans)


def _timed(timed: Sequence[Document]) -> Iterator[Figure]:
    """What the sheet asked to be timed; the second of one name says so."""
    seen: dict[str, int] = {}
    for one in timed:
        seen[one["name"]] = seen.get(one["name"], 0) + 1
        count = seen[one["name"]]
        run = one["name"] if count == 1 else f"{one['name']}, {count}"
        start_s, time_s = known(one["start_s"]), known(one["time"]["value"])
        spans = ((start_s, start_s + time_s),) if math.isfinite(start_s) else ()
        yield _mean(run, "time", one["time"], spans=spans, remark=str(one["how"]))
