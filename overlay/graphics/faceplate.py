"""Faceplates: TOML files that say which instruments stand where on the picture.

A file becomes a frozen spec here; what can be judged without a trial and a picture is
judged here. Places are given by an anchor in the safe area, or on top of another
instrument, and sizes in shares of the picture's short side, so that one file serves every
size and shape of picture.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

from overlay.graphics.instruments import INSTRUMENTS
from overlay.graphics.picture import SHAPES
from overlay.graphics.spec_file import Key, SpecFile, find, nearest
from sync.channel_kinds import CHANNELS

SCHEMA = "faceplate/1"

ANCHORS = (
    "top left",
    "top",
    "top right",
    "left",
    "right",
    "bottom left",
    "bottom",
    "bottom right",
)
"""Where an instrument may be anchored; the middle of the picture is not for instruments."""

MOST_INSTRUMENTS = 4
"""As much as an eye takes in at a time (common practice, no published source)."""

IF_MISSING = ("leave_out", "show_empty")


@dataclass(frozen=True, slots=True, kw_only=True)
class InstrumentSpec:
    """One instrument of a faceplate.

    Parameters
    ----------
    name, kind
        Its name on this faceplate, and its key in `INSTRUMENTS`.
    channel
        The key of the channel that it shows; empty where it shows the run.
    anchor, above
        Its place in the safe area, and the instrument that it stands on, if any.
    shift
        To the right and down, in shares of the picture's width and height.
    width, as_wide_as
        Least width as a share of the short side, or that of another instrument.
    shapes
        On which shapes of picture it is drawn.
    label
        What is written on it; empty for the channel's own label.
    if_missing
        What becomes of it where the trial has no such channel.
    options
        What its kind takes besides.
    line
        Where it stands in its file.
    """

    name: str
    kind: str
    channel: str = ""
    anchor: str = "bottom left"
    above: str = ""
    shift: tuple[float, float] = (0.0, 0.0)
    width: float = 0.0
    as_wide_as: str = ""
    shapes: tuple[str, ...] = SHAPES
    label: str = ""
    if_missing: str = "leave_out"
    options: Mapping[str, Any] = field(default_factory=lambda: MappingProxyType({}))
    line: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Faceplate:
    """A faceplate as its file says it."""

    name: str
    instruments: tuple[InstrumentSpec, ...]
    theme: str = "chart"
    text: str = ""
    path: Path | None = None


_TOP: Mapping[str, Key] = {
    "schema": Key(kind=str),
    "name": Key(kind=str, needed=True, text="what the faceplate is called"),
    "text": Key(kind=str, default=""),
    "theme": Key(kind=str, default="chart"),
}

PLACING: Mapping[str, Key] = {
    "name": Key(kind=str, needed=True, text="what the instrument is called on this faceplate"),
    "kind": Key(kind=str, needed=True, text="which sort of instrument it is"),
    "channel": Key(kind=str, default="", text="which channel it shows"),
    "anchor": Key(kind=str, default="bottom left", allowed=ANCHORS),
    "above": Key(kind=str, default=""),
    "shift": Key(kind=list, default=(0.0, 0.0), low=-1.0, high=1.0),
    "width": Key(kind=float, default=0.0, low=0.0, high=2.0),
    "as_wide_as": Key(kind=str, default=""),
    "shapes": Key(kind=tuple, default=SHAPES, allowed=SHAPES),
    "label": Key(kind=str, default=""),
    "if_missing": Key(kind=str, default="leave_out", allowed=IF_MISSING),
}
"""The keys that every instrument of a faceplate may have."""

_TABLE = "instruments"


def load_faceplate(name_or_path: str | Path) -> Faceplate:
    """A faceplate by the name it comes with, or from a file.

    Raises
    ------
    FaceplateError
        With file, line and key, where something cannot be drawn.
    """
    file = SpecFile.read(find(name_or_path, "faceplates", "faceplate"), SCHEMA)
    tables = file.data.get(_TABLE)
    top = file.values({k: v for k, v in file.data.items() if k != _TABLE}, _TOP)
    if not isinstance(tables, list) or not tables:
        raise file.error("there is no instrument", _TABLE, advice="write one under [[instruments]]")
    specs = tuple(_instrument(file, table, index) for index, table in enumerate(tables))
    _check_names(file, specs)
    _check_count(file, specs)
    return Faceplate(
        name=top["name"],
        instruments=specs,
        theme=top["theme"],
        text=top["text"],
        path=file.path,
    )


def _instrument(file: SpecFile, table: Any, index: int) -> InstrumentSpec:
    if not isinstance(table, dict):
        raise file.error(f"{table!r} is not a table", _TABLE, advice="write [[instruments]]")
    kind = table.get("kind")
    if not isinstance(kind, str) or kind not in INSTRUMENTS:
        what = "the kind is missing" if kind is None else f"{kind!r} is not an instrument"
        raise file.error(
            what,
            "kind",
            table=_TABLE,
            index=index,
            allowed=tuple(INSTRUMENTS),
            advice=nearest(str(kind), INSTRUMENTS).removesuffix(", "),
        )
    keys = {**PLACING, **INSTRUMENTS[kind].options}
    values = file.values(table, keys, table=_TABLE, index=index)
    _check_channel(file, values, index)
    placing = {key: values[key] for key in PLACING}
    options = {key: values[key] for key in INSTRUMENTS[kind].options}
    return InstrumentSpec(
        **placing,
        options=MappingProxyType(options),
        line=file.line_of("name", _TABLE, index),
    )


def _check_channel(file: SpecFile, values: Mapping[str, Any], index: int) -> None:
    kind, channel = values["kind"], values["channel"]
    allowed = INSTRUMENTS[kind].channels
    name, _, instance = channel.partition(".")
    if not allowed:
        if channel:
            raise file.error(
                f"a {kind} shows the run and takes no channel",
                "channel",
                table=_TABLE,
                index=index,
                advice="take the key out",
            )
        return
    if name not in allowed or (instance and not instance.isdigit()):
        what = f"this {kind} needs a channel"
        if channel:
            real = name in CHANNELS and name not in allowed
            reason = "it shows other channels" if real else "there is no such channel"
            what = f"this {kind} cannot show {channel!r}: {reason}"
        raise file.error(
            what,
            "channel",
            table=_TABLE,
            index=index,
            allowed=allowed,
            advice=nearest(name, allowed).removesuffix(", "),
        )


def _check_names(file: SpecFile, specs: tuple[InstrumentSpec, ...]) -> None:
    names: list[str] = []
    for index, spec in enumerate(specs):
        if spec.name in names:
            raise file.error(
                f"two instruments are called {spec.name!r}", "name", table=_TABLE, index=index
            )
        for key, other in (("above", spec.above), ("as_wide_as", spec.as_wide_as)):
            if other and other not in names:
                raise file.error(
                    f"there is no instrument {other!r} before this one",
                    key,
                    table=_TABLE,
                    index=index,
                    allowed=tuple(names),
                    advice="write that one first",
                )
        names.append(spec.name)


def _check_count(file: SpecFile, specs: tuple[InstrumentSpec, ...]) -> None:
    """No shape of picture may have more than it has room for."""
    for shape in SHAPES:
        here = [index for index, spec in enumerate(specs) if shape in spec.shapes]
        if len(here) > MOST_INSTRUMENTS:
            raise file.error(
                f"there are {len(here)} instruments on {shape} pictures, and a picture has room "
                f"for {MOST_INSTRUMENTS}",
                table=_TABLE,
                index=here[MOST_INSTRUMENTS],
                advice="take some out, give them other shapes, or make a second faceplate",
            )
