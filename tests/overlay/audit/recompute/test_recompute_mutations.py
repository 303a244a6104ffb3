"""A formula that is wrong on one side only does not pass: each is spoilt in the product, and the
comparison finds it.

Not among them is rounding half to even in place of half up: they differ on ties alone, and there
the comparison takes either neighbour, as it must within 1e-9.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, ROUND_DOWN, Decimal
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pytest
from sailed import DELAYS, logged, sailed, script, within, write_trial

import overlay.analysis.attitude
import overlay.analysis.ladder
import overlay.analysis.launches
import overlay.analysis.signals
import overlay.analysis.smoothing
import overlay.analysis.start
import overlay.analysis.steps
import overlay.analysis.stopping
import overlay.analysis.turning
import overlay.figures
import overlay.workflow.faces
import overlay.workflow.subject
import sync.channel
import sync.units
from overlay.analysis.smoothing import LAWS
from overlay.analysis.two_way import TwoWay
from overlay.audit.recompute import compare_with
from overlay.audit.recompute.results.document import compare_results
from overlay.audit.recompute.sheet import read_sheet

Patch = pytest.MonkeyPatch
Spoil = Callable[[Patch], None]


@dataclass(frozen=True)
class Mutation:
    """What is spoilt, in which run it shows, and whether the trial has to be built anew."""

    spoil: Spoil
    run: str = "launch 1"
    faceplate: str | None = None
    anew: bool = False


def unit_factor(pint_name: str, factor: float) -> Spoil:
    def spoil(patch: Patch) -> None:
        lines = dict(sync.units.LINES) | {pint_name: (factor, 0.0)}
        patch.setattr(sync.units, "LINES", MappingProxyType(lines))
        sync.units._line.cache_clear()

    return spoil


def law(name: str, **changes: object) -> Spoil:
    def spoil(patch: Patch) -> None:
        laws = dict(LAWS) | {name: replace(LAWS[name], **changes)}
        patch.setattr(overlay.analysis.smoothing, "LAWS", MappingProxyType(laws))

    return spoil


def grid(**rates: float) -> Spoil:
    def spoil(patch: Patch) -> None:
        made = dict(overlay.analysis.signals.GRID_HZ) | rates
        patch.setattr(overlay.analysis.signals, "GRID_HZ", MappingProxyType(made))

    return spoil


def attribute(place: object, name: str, value: object) -> Spoil:
    return lambda patch: patch.setattr(place, name, value)


def delay_added(patch: Patch) -> None:
    def timely(self: sync.channel.Channel) -> sync.channel.Channel:
        return replace(self, t_s=self.t_s + self.delay_s, delay_s=0.0)

    patch.setattr(sync.channel.Channel, "timely", timely)


def finer_digits(patch: Patch) -> None:
    steps = dict(overlay.figures._STEP) | {"mph": "0.01"}
    patch.setattr(overlay.figures, "_STEP", MappingProxyType(steps))


def no_marks_in_the_grid(patch: Patch) -> None:
    whole = overlay.analysis.signals.Signal.shown_instant

    def shown_instant(self, t_s: float) -> float:
        return whole(replace(self, marks_s=()), t_s)

    patch.setattr(overlay.analysis.signals.Signal, "shown_instant", shown_instant)


def times_on_flags_rounded_down(patch: Patch) -> None:
    def down(value: float, step: Decimal) -> Decimal:
        return Decimal(math.floor(Decimal(repr(value)) / step)) * step

    patch.setattr(overlay.figures, "round_half_up", down)


SHOWN = {
    "mph off by a tenth of a per cent": Mutation(unit_factor("mile/hour", 0.44748)),
    "rpm off by a hundredth of a per cent": Mutation(unit_factor("1/minute", 1 / 59.99)),
    "gallons an hour are imperial ones": Mutation(
        unit_factor("gallon/hour", 1.2628e-6), "3490 rpm, pass 2"
    ),
    "degrees off": Mutation(unit_factor("degree", math.pi / 181)),
    "cut instead of rounded": Mutation(attribute(overlay.figures, "ROUND_HALF_UP", ROUND_DOWN)),
    "rounded upwards": Mutation(attribute(overlay.figures, "ROUND_HALF_UP", ROUND_CEILING)),
    "flags rounded down": Mutation(times_on_flags_rounded_down),
    "a digit too many": Mutation(finer_digits),
    "window of the line": Mutation(law("line", half_s=0.25)),
    "degree of the line": Mutation(law("line", degree=2)),
    "window of the aided law": Mutation(law("aided", half_s=1.4)),
    "no aid": Mutation(attribute(overlay.analysis.smoothing, "aid_for", lambda *_: None)),
    "more misfit allowed": Mutation(
        attribute(overlay.analysis.smoothing, "MISFIT_MPS", 0.02), "launch 1"
    ),
    "grid of engine speed": Mutation(grid(engine_speed=5.0)),
    "grid of speed": Mutation(grid(speed=2.0)),
    "other grids": Mutation(attribute(overlay.analysis.signals, "OTHER_GRID_HZ", 5.0)),
    "marks do not take the grid's place": Mutation(no_marks_in_the_grid),
    "delay added instead of taken out": Mutation(delay_added, anew=True),
    "pitch not levelled": Mutation(
        attribute(overlay.workflow.subject, "_levelled", lambda channel, _: channel)
    ),
    "pitch levelled by too short a rest": Mutation(
        attribute(overlay.analysis.start, "LEVEL_S", 2.0)
    ),
    "heel of a turn to port not turned over": Mutation(
        attribute(overlay.workflow.subject, "_heeled", lambda channel, _: channel),
        "turn 2 to port",
    ),
    "angle swept in steps that are too long": Mutation(
        attribute(overlay.workflow.faces, "TURNED_STEP_S", 0.1037), "turn 1 to starboard"
    ),
}


@pytest.mark.parametrize("name", SHOWN)
def test_what_is_shown(name: str, demo, work, monkeypatch: Patch) -> None:
    mutation = SHOWN[name]
    demo.day  # noqa: B018 - both sides are read before one of them is spoilt
    try:
        mutation.spoil(monkeypatch)
        made = work(demo.sheet_path) if mutation.anew else demo
        ledger = made.ledger(mutation.run, faceplate=mutation.faceplate)
    finally:
        monkeypatch.undo()
        sync.units._line.cache_clear()
    held = compare_with(demo.side(ledger), ledger)
    assert held.findings, name
    assert {one.kind for one in held.findings} & {"text", "value", "instant", "result"}


def traced_to_the_first_sample(patch: Patch) -> None:
    def first(t, values, ramp, level):
        return float(t[ramp[0]])

    patch.setattr(overlay.analysis.start, "_traced_back", first)


def mean_of_times(patch: Patch) -> None:
    """A mile each way, and the miles over the hours."""
    right = overlay.analysis.steps.two_way

    def wrong(passes) -> TwoWay | None:
        found = right(passes)
        if found is None:
            return None
        there = [p.speed_mps for p, way in zip(passes, found.ways, strict=True) if way > 0]
        back = [p.speed_mps for p, way in zip(passes, found.ways, strict=True) if way < 0]
        slowness = (np.mean([1 / v for v in there]) + np.mean([1 / v for v in back])) / 2
        return replace(found, speed_mps=float(1 / slowness))

    patch.setattr(overlay.analysis.steps, "two_way", wrong)


def first_pass_only(patch: Patch) -> None:
    right = overlay.analysis.steps.two_way

    def wrong(passes) -> TwoWay | None:
        found = right(passes)
        return None if found is None else replace(found, speed_mps=passes[0].speed_mps)

    patch.setattr(overlay.analysis.steps, "two_way", wrong)


def radius_for_diameter(patch: Patch) -> None:
    right = overlay.analysis.turning.fit_circle

    def wrong(*args, **more):
        found = right(*args, **more)
        return replace(found, value=found.value / 2)

    patch.setattr(overlay.analysis.turning, "fit_circle", wrong)


def level_kept_in_bow_rise(patch: Patch) -> None:
    right = overlay.analysis.attitude.mean_of

    def wrong(channel, span):
        return replace(right(channel, span), value=0.0)

    patch.setattr(overlay.analysis.attitude, "mean_of", wrong)


RESULTS: dict[str, tuple[Spoil, str]] = {
    "start not traced back": (traced_to_the_first_sample, "start"),
    "delay added instead of taken out": (delay_added, "20 mph"),
    "ladder by another speed": (
        attribute(
            overlay.analysis.ladder, "to_si", lambda value, *_: sync.units.to_si(value, "kn")
        ),
        "20 mph",
    ),
    "means both ways of times": (mean_of_times, "rpm, speed"),
    "one pass for both ways": (first_pass_only, "rpm, speed"),
    "a radius for the diameter": (radius_for_diameter, "diameter"),
    "bow rise without its level": (level_kept_in_bow_rise, "bow rise"),
    "time to plane after a third": (
        attribute(overlay.analysis.attitude, "FALLEN_SHARE", 1 / 3),
        "time to plane",
    ),
    "way off at three knots": (
        attribute(overlay.analysis.stopping, "WAY_OFF_MPS", 3 * 1852 / 3600),
        "stop 1",
    ),
    "turn held from a quarter on": (
        attribute(overlay.analysis.turning, "HALF_RAD", math.pi / 2),
        "half done",
    ),
    "what counts as steady is twice as wide": (
        lambda patch: (
            patch.setattr("overlay.analysis.steady.SPEED_SHARE", 0.09),
            patch.setattr("overlay.analysis.steady.ENGINE_SHARE", 0.08),
        )[0],
        "does not keep to its band",
    ),
}


@pytest.mark.parametrize("name", RESULTS)
def test_results(name: str, demo, work, monkeypatch: Patch) -> None:
    spoil, where = RESULTS[name]
    day = demo.day
    try:
        spoil(monkeypatch)
        made = work(demo.sheet_path)
        document = made.document
    finally:
        monkeypatch.undo()
        sync.units._line.cache_clear()
    rows = compare_results(read_sheet(demo.sheet_path), day, document)
    wrong = [row.what for row in rows if not row.agrees]
    assert any(where in what for what in wrong), wrong


def test_nothing_is_found_where_nothing_was_spoilt(demo, work) -> None:
    made = work(demo.sheet_path)
    for run in sorted({mutation.run for mutation in SHOWN.values()}):
        ledger = made.ledger(run)
        assert compare_with(demo.side(ledger), ledger).findings == ()


def test_a_wrong_knot_in_the_reader(demo, work, tmp_path: Path, monkeypatch: Patch) -> None:
    """Knots are taken for 0.514 m/s: four parts in ten thousand at the very start of the road."""
    day = demo.day
    monkeypatch.setenv("TRIALREEL_CACHE", str(tmp_path / "fresh"))
    monkeypatch.setattr("sync.readers.nmea_fields.KNOT", 0.514)
    monkeypatch.setattr("sync.readers.nmea_ways.KNOT", 0.514)
    fields = __import__("sync.readers.nmea_ways", fromlist=["FIELDS"])
    spoilt = tuple(
        replace(way, take=lambda of, take=way.take: take(of) * 0.514 / (1852 / 3600))
        if way.channel == "speed"
        else way
        for way in fields.FIELDS
    )
    monkeypatch.setattr("sync.readers.nmea_channels.FIELDS", spoilt)
    made = work(demo.sheet_path)
    ledger = made.ledger("launch 1")
    monkeypatch.undo()
    held = compare_with(replace(made.side(ledger), day=day), ledger)
    assert any(one.kind in ("text", "value") and one.item == "value" for one in held.findings)


def test_a_course_that_does_not_wrap(monkeypatch: Patch) -> None:
    """Between 350° and 10° lies north, and not south."""
    from overlay.audit.recompute.laws import curve_of
    from overlay.audit.recompute.recorded import recorded

    t, values = np.array([0.0, 1.0, 2.0]), np.radians([340.0, 350.0, 10.0])
    theirs = sync.channel.Channel(name="course", clock="utc", t_s=t, values=values)
    ours = recorded(
        key="course", log="log", path=Path("log"), t_s=t, values=values,
        lines=np.arange(3), printed=values, worth_si=1.0,
    )  # fmt: skip
    assert ours is not None
    wanted = curve_of(ours, {}).at(1.75).value
    assert float(theirs.at(1.75)[0]) == pytest.approx(wanted)
    monkeypatch.setattr("sync.channel.np.unwrap", lambda values: values)
    assert abs(float(theirs.at(1.75)[0]) - wanted) > 1.0


def test_a_gap_that_is_bridged(tmp_path: Path, work, monkeypatch: Patch) -> None:
    """Six tenths of a second without speed show no value; bridged, they would show one."""
    day = logged(sailed())
    start = next(one.start_s for one in script()[1] if one.what == "launch")
    speed = day["speed"]
    away = within(speed, start + 20.0, start + 20.5)
    day["speed"] = replace(speed, values=np.where(away, np.nan, speed.values))
    path = write_trial(tmp_path / "day", day, DELAYS)
    whole = work(path)
    ledger = whole.ledger("launch 1")
    assert compare_with(whole.side(ledger), ledger).findings == ()
    monkeypatch.setenv("TRIALREEL_CACHE", str(tmp_path / "fresh"))
    monkeypatch.setattr(sync.channel, "LEAST_GAP_S", 5.0)
    ledger = work(path).ledger("launch 1")
    monkeypatch.undo()
    held = compare_with(whole.side(ledger), ledger)
    assert any(one.kind == "text" and one.wanted == "––" for one in held.findings)


def test_the_window_of_the_parabola(tmp_path: Path, work, monkeypatch: Patch) -> None:
    """Of a day without an acceleration that would aid speed."""
    made = work(write_trial(tmp_path / "day", logged(sailed()), DELAYS))
    assert made.day.curve("speed").name == "parabola"
    ledger = made.ledger("launch 2")
    assert compare_with(made.side(ledger), ledger).findings == ()
    law("parabola", half_s=0.4)(monkeypatch)
    ledger = made.ledger("launch 2")
    monkeypatch.undo()
    held = compare_with(made.side(ledger), ledger)
    assert any(one.kind in ("text", "value") for one in held.findings)
