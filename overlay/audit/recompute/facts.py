"""What a ledger says of its whole clip, held against the sheet and the logs."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from overlay.audit.recompute.expected import Finding
from overlay.audit.recompute.grid import rate_hz
from overlay.audit.recompute.laws import curve_of
from overlay.audit.recompute.unit_sets import SHOWN_UNITS

if TYPE_CHECKING:
    from overlay.audit.recompute.side import LogSide


def facts_against_sheet(side: LogSide) -> tuple[list[Finding], list[str]]:
    """What of the facts the sheet and the logs do not bear out, and what was taken from them."""
    findings = [*_units(side), *_sources(side), *_delays(side), *_signals(side)]
    notes = [*_other_units(side)]
    notes += [
        f"the delay of {key} is the ledger's, {float(row['delay_s']):.3f} s as clues had it: the "
        "sheet states none"
        for key, row in side.facts.get("delays", {}).items()
        if row.get("origin") == "estimated"
        and not side.sheet.late(str(row.get("log", "")), key).stated
    ]
    notes += [f"not read a second time: {why}" for why in side.day.unread.values()]
    return findings, notes


def _fact(told: str, found: object, wanted: object, channel: str = "", log: str = "") -> Finding:
    return Finding(
        kind="fact", told=told, found=str(found), wanted=str(wanted), channel=channel, log=log
    )


def _units(side: LogSide) -> Iterator[Finding]:
    """What is neither the sheet's set of units nor another that there is."""
    said = side.facts.get("units")
    if said != side.sheet.units:
        told = (
            "the ledger does not say which units the clip is in"
            if said is None
            else f"the ledger says that the clip is in the units {said!r}, and there are none such"
        )
        yield _fact(told, said, " or ".join(SHOWN_UNITS))


def _other_units(side: LogSide) -> Iterator[str]:
    """That a clip was made for other readers than the sheet."""
    sheet = side.sheet
    if sheet.units != sheet.own_units:
        sign, speeds = sheet.ladder
        listed = ", ".join(f"{speed:g}" for speed in speeds)
        yield (
            f"the clip is in {sheet.units} units and the sheet in {sheet.own_units}: held in the "
            f"clip's, with launches timed through {listed} {sign}"
        )


def _sources(side: LogSide) -> Iterator[Finding]:
    """Of two logs with one channel the first of the sheet has it."""
    unread = [entry.name for entry in side.sheet.logs if entry.name in side.day.unread]
    for key, said in side.facts.get("sources", {}).items():
        channel = side.day.channels.get(key)
        if channel is None or channel.log == said or said in unread:
            continue
        yield _fact(
            f"{key} is said to come from the log {said!r}, and comes from {channel.log!r}",
            said,
            channel.log,
            key,
            channel.log,
        )


def _delays(side: LogSide) -> Iterator[Finding]:
    """What the sheet states is taken, and nothing where it states none and nobody estimated it."""
    for key, row in side.facts.get("delays", {}).items():
        log = str(row.get("log", ""))
        stated = side.sheet.late(log, key)
        if not stated.stated and row.get("origin") == "estimated":
            continue
        said = (float(row["delay_s"]), float(row["sd_s"]))
        for what, here, wanted in zip(
            ("late", "uncertain"), said, (stated.delay_s, stated.sd_s), strict=True
        ):
            if not math.isclose(here, wanted, rel_tol=1e-9, abs_tol=1e-9):
                yield _fact(
                    f"{key} in {log!r} was taken to be {here:g} s {what}, and the sheet has "
                    f"{wanted:g} s",
                    here,
                    wanted,
                    key,
                    log,
                )


def _signals(side: LogSide) -> Iterator[Finding]:
    """Law, rate and aid of every channel that is shown."""
    for key, row in side.facts.get("signals", {}).items():
        channel = side.day.channels.get(key)
        if channel is None:
            continue
        curve = curve_of(channel, side.day.channels)
        aid = None if curve.aid is None else curve.aid.key
        for what, said, wanted in (
            ("law", row.get("law"), curve.name),
            ("rate", row.get("grid_hz"), float(rate_hz(key))),
            ("aid", row.get("aided_by"), aid),
        ):
            if said != wanted:
                yield _fact(
                    f"{key} is shown with the {what} {said}, and ought to be with {wanted}",
                    said,
                    wanted,
                    key,
                    channel.log,
                )


def sides_told(side: LogSide) -> list[Finding]:
    """Numbers of port and starboard that are said to follow from the other side's engine."""
    findings = []
    for (instrument, item), shows in side.shows.items():
        if item not in ("port", "starboard"):
            continue
        name, _, number = shows.channel.partition(".")
        wanted = 0 if item == "port" else 1
        if int(number or 0) != wanted:
            fact = _fact(
                f"{instrument}, {item} follows from {shows.channel}, which is the other engine's",
                shows.channel,
                f"{name}.{wanted}" if wanted else name,
                shows.channel,
                shows.log,
            )
            findings.append(replace(fact, instrument=instrument, item=item))
    return findings
