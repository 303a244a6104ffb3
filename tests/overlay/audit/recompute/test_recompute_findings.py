"""A ledger that says something else than the logs: each sort of fault is found and told."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator
from dataclasses import replace

import pandas as pd
import pytest

from overlay.audit.recompute import Finding, LedgerHeld, compare_with
from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.run_shown import run_of
from overlay.ledger import Ledger


def changed(
    ledger: Ledger,
    rows: Callable[[pd.DataFrame], None] | None = None,
    facts: Callable[[dict], None] | None = None,
) -> Ledger:
    table = ledger.rows.copy()
    for name in ("text", "channel", "log", "instrument", "item", "unit"):
        table[name] = table[name].astype(object)
    told = copy.deepcopy(dict(ledger.facts))
    if rows is not None:
        rows(table)
    if facts is not None:
        facts(told)
    return Ledger(facts=told, rows=table)


@pytest.fixture(scope="module")
def launch(demo) -> Ledger:
    return demo.ledger("launch 1")


@pytest.fixture
def hold(demo) -> Callable[[Ledger], LedgerHeld]:
    def held(ledger: Ledger) -> LedgerHeld:
        return compare_with(demo.side(ledger), ledger)

    return held


def of(table: pd.DataFrame, instrument: str, row: int) -> int:
    return int(table.index[table["instrument"] == instrument][row])


def only(held: LedgerHeld) -> Finding:
    assert len(held.findings) == 1, [one.told for one in held.findings]
    return held.findings[0]


def test_one_digit(launch, hold) -> None:
    def spoil(table: pd.DataFrame) -> None:
        row = of(table, "speed", 60)
        text = table.loc[row, "text"]
        table.loc[row, "text"] = text[:-1] + ("3" if text[-1] != "3" else "4")

    found = only(hold(changed(launch, spoil)))
    assert found.kind == "text"
    assert found.frames == (60, 60, 1)
    assert found.told == f"speed shows {found.found}, and by the logs ought to show {found.wanted}"
    assert found.found[:-1] == found.wanted[:-1]
    assert (found.channel, found.log) == ("speed", "gps")


def test_a_value_behind_the_text(launch, hold) -> None:
    def spoil(table: pd.DataFrame) -> None:
        table.loc[of(table, "engine", 50), "value_si"] *= 1 + 1e-7

    found = only(hold(changed(launch, spoil)))
    assert found.kind == "value"
    assert found.wanted.endswith(" rpm")


def test_a_value_of_another_instant(launch, hold) -> None:
    def spoil(table: pd.DataFrame) -> None:
        table.loc[of(table, "bow", 50), "t_shown_s"] -= 0.25

    found = only(hold(changed(launch, spoil)))
    assert found.kind == "instant"
    assert found.told == f"bow is that of {found.found}, and ought to be that of {found.wanted}"
    seconds = [float(text[6:12]) for text in (found.found, found.wanted)]
    assert (seconds[1] - seconds[0]) % 60 == pytest.approx(0.25)


def test_a_stale_number(launch, hold) -> None:
    """One readout stands still for three seconds of the launch."""

    def spoil(table: pd.DataFrame) -> None:
        first, last = of(table, "speed", 30), of(table, "speed", 45)
        rows = table.index[
            (table["instrument"] == "speed") & (table.index.to_series().between(first, last))
        ]
        for name in ("text", "value_si", "t_shown_s"):
            table.loc[rows, name] = table.loc[rows[0], name]

    held = hold(changed(launch, spoil))
    assert held.findings
    assert all(one.instrument == "speed" for one in held.findings)
    assert sum(one.frames[2] for one in held.findings) >= 10


def test_a_clock_moved_by_a_frame(launch, hold) -> None:
    def spoil(table: pd.DataFrame) -> None:
        table["t_utc_s"] += 0.2

    kinds = {one.kind for one in hold(changed(launch, spoil)).findings}
    assert {"frame time", "instant"} <= kinds


def test_a_tie_that_is_not_the_frames(launch, hold) -> None:
    def spoil(facts: dict) -> None:
        facts["tie"]["offset_s"] += 0.5

    found = only(hold(changed(launch, facts=spoil)))
    assert found.kind == "frame time"
    assert "0.500000 s" in found.told


def test_an_instrument_that_is_missing_for_some_frames(launch, hold) -> None:
    rows = launch.rows
    some = rows[(rows["instrument"] == "engine") & rows["frame"].between(40, 49)].index
    found = only(hold(replace(launch, rows=rows.drop(some))))
    assert (found.kind, found.found, found.frames) == ("missing", "40 to 49", (40, 49, 10))


def test_a_flag_that_drops_too_early(launch, hold) -> None:
    rows = launch.rows
    flag = rows[rows["item"] == "20 mph"]
    early = flag.iloc[:1].assign(
        frame=int(flag["frame"].iloc[0]) - 3,
        t_utc_s=float(flag["t_utc_s"].iloc[0]) - 0.6000060,
        t_footage_s=float(flag["t_footage_s"].iloc[0]) - 0.6,
    )
    held = hold(replace(launch, rows=pd.concat([rows, early], ignore_index=True)))
    kinds = {one.kind for one in held.findings if one.item == "20 mph"}
    assert kinds == {"text", "too many"}


def test_port_and_starboard_exchanged(launch, hold) -> None:
    def spoil(table: pd.DataFrame) -> None:
        engine = table["instrument"] == "engine"
        table.loc[engine, "item"] = "starboard"

    held = hold(changed(launch, spoil))
    assert any("the other engine's" in one.told for one in held.findings)


FACTS: dict[str, tuple[Callable[[dict], None], str]] = {
    "other units": (lambda f: f.update(units="metric"), "there is a flag '40 km/h'"),
    "the unit of numbers": (lambda f: f.update(units="metric"), ", and by the logs ought to show "),
    "no units": (lambda f: f.pop("units"), "does not say which units the clip is in"),
    "no such units": (lambda f: f.update(units="miles"), "units 'miles', and there are none such"),
    "a delay": (lambda f: f["delays"]["speed"].update(delay_s=0.1), "0.1 s late"),
    "the doubt of a delay": (lambda f: f["delays"]["speed"].update(sd_s=0.1), "0.1 s uncertain"),
    "a delay that nobody stated": (
        lambda f: f["delays"]["course"].update(delay_s=0.3),
        "course in 'gps' was taken to be 0.3 s late",
    ),
    "a law": (lambda f: f["signals"]["pitch"].update(law="neighbours"), "law neighbours"),
    "a rate": (lambda f: f["signals"]["pitch"].update(grid_hz=5.0), "rate 5.0"),
    "an aid": (lambda f: f["signals"]["speed"].pop("aided_by"), "aid None"),
    "a source": (lambda f: f["sources"].update(speed="attitude"), "come from the log 'attitude'"),
    "a start": (
        lambda f: f["run"].update(start_utc_s=f["run"]["start_utc_s"] - 0.4),
        "is said to begin -0.400 s from where the logs have it",
    ),
    "a figure": (lambda f: f["run"]["marks"][0].update(value=1.96), "stands for 1.96"),
    "when a flag drops": (
        lambda f: f["run"]["marks"][3].update(t_utc_s=f["run"]["marks"][3]["t_utc_s"] + 0.01),
        "drops 0.010 s from where the logs have it",
    ),
    "a flag too few": (lambda f: f["run"]["marks"].pop(1), "there is a flag '20 mph'"),
    "a flag too many": (
        lambda f: f["run"]["marks"].append({**f["run"]["marks"][3], "label": "60 mph"}),
        "'60 mph' says 10.3 s, and by the logs there is none",
    ),
}


@pytest.mark.parametrize("name", FACTS)
def test_a_fact_of_the_clip(name: str, launch, hold) -> None:
    spoil, told = FACTS[name]
    held = hold(changed(launch, facts=spoil))
    assert any(told in one.told for one in held.findings), [one.told for one in held.findings]


def test_a_wrong_figure_is_not_what_a_flag_ought_to_say(launch, demo) -> None:
    """Where ledger and picture share a wrong figure, the logs' own stands against it."""

    def spoil(facts: dict) -> None:
        facts["run"]["marks"][1].update(value=4.05, text="4.1 s")

    ledger = changed(launch, facts=spoil)
    t = ledger.rows["t_utc_s"].to_numpy()[-1:]
    assert demo.side(ledger).expected("time", "20 mph", t).texts == (("4.5",),)


def test_an_estimated_delay_is_taken_and_told(launch, demo) -> None:
    """For a channel that the sheet does not speak of."""

    def spoil(facts: dict) -> None:
        facts["delays"]["turn_rate"].update(delay_s=0.07, origin="estimated")

    held = compare_with(demo.side(changed(launch, facts=spoil)), changed(launch, facts=spoil))
    assert held.findings == ()
    assert held.notes == (
        "the delay of turn_rate is the ledger's, 0.070 s as clues had it: the sheet states none",
    )


def test_facts_without_a_run_are_told() -> None:
    with pytest.raises(CannotRecompute, match="does not say which run it shows"):
        run_of({"units": "us"})


def test_findings_are_plain_sentences(launch, hold) -> None:
    def every(table: pd.DataFrame) -> None:
        table.loc[table["instrument"] == "bow", "text"] = "9"

    def told() -> Iterator[str]:
        for one in hold(changed(launch, every)).findings:
            yield one.told

    lines = list(told())
    assert len(lines) > 10
    assert all(line.startswith("bow shows 9, and by the logs ought to show ") for line in lines)
    assert max(map(len, lines)) < 80
