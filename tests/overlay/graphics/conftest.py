"""A launch that is known on paper, and frames to draw on."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
import pytest

from overlay.analysis.signals import Signal, signal_of
from overlay.figures import seconds
from overlay.graphics.faceplate import Faceplate, InstrumentSpec
from overlay.graphics.instruments import INSTRUMENTS
from overlay.graphics.layer import Planes
from overlay.graphics.picture import Picture
from overlay.graphics.plan import Plan, compile_plan
from overlay.graphics.subject import RunFace, RunMark, Subject
from sync.channel import Channel

if TYPE_CHECKING:
    from numpy.typing import NDArray

START_S = 1_781_150_400.0
"""2026-06-11T04:00:00Z, when the boat of these tests begins to move."""

MARKS = ((2.24, "10 mph"), (4.47, "20 mph"), (6.71, "30 mph"))
"""A steady 2 m/s² takes so long to 10, 20 and 30 mph (check: v / a, mph = 0.44704 m/s)."""


def ramp(
    name: str,
    points: list[tuple[float, float]],
    hz: float = 10.0,
    hole: tuple[float, float] | None = None,
) -> Signal:
    """A channel that runs straight from point to point, with the marks of the launch; without
    a value from one instant to another if wanted."""
    t = np.arange(-6.0, 16.0 + 1e-9, 1.0 / hz)
    values = np.interp(t, [x for x, _ in points], [y for _, y in points])
    if hole is not None:
        values[(t > hole[0]) & (t < hole[1])] = np.nan
    return signal_of(
        Channel(name=name, t_s=START_S + t, values=values, clock="utc"),
        {},
        tuple(START_S + t_s for t_s, _ in MARKS),
    )


def run_face(marks: tuple[tuple[float, str], ...] = MARKS, stop_s: float = 8.0) -> RunFace:
    return RunFace(
        kind="launch",
        title="launch 1",
        start_utc_s=START_S,
        stop_utc_s=START_S + stop_s,
        shown_from_utc_s=START_S - 4,
        shown_to_utc_s=START_S + 14,
        marks=tuple(
            RunMark(
                t_utc_s=START_S + t_s,
                label=label,
                text=seconds(t_s, 0.04),
                value=t_s,
                sd=0.04,
            )
            for t_s, label in marks
        ),
    )


def launch(units: str = "us", **changes: Signal | None) -> Subject:
    """Speed rises by 2 m/s² for 8 s; engine speed and pitch come up and settle."""
    signals: dict[str, Signal | None] = {
        "speed": ramp("speed", [(0, 0), (8, 16), (20, 16)]),
        "engine_speed": ramp("engine_speed", [(0, 11), (1, 75), (3, 70), (8, 95), (20, 95)]),
        "pitch": ramp("pitch", [(0, 0.02), (1.6, 0.21), (2.4, 0.21), (6, 0.07), (20, 0.07)], hz=50),
    }
    signals.update(changes)
    return Subject(
        signals={name: signal for name, signal in signals.items() if signal},
        units=units,
        run=run_face(),
        bands={"engine_speed": (5000 / 60, 6000 / 60)},
    )


def frame(picture: Picture, luma: int | None = None) -> Planes:
    """Planes of one grey, or of noise that uses every code."""
    shapes = [(picture.height_px, picture.width_px), picture.chroma_shape, picture.chroma_shape]
    if luma is None:
        noise = np.random.default_rng(20260611)
        y, u, v = (noise.integers(0, 256, shape, dtype=np.uint8) for shape in shapes)
        return y, u, v
    y, u, v = (
        np.full(shape, code, np.uint8) for shape, code in zip(shapes, (luma, 128, 128), strict=True)
    )
    return y, u, v


def rgb(planes: Planes) -> NDArray[np.float64]:
    """R'G'B' codes of a limited-range BT.709 picture, chroma repeated for each pixel.

    Source of the numbers: ITU-R BT.709-6, items 3.2 to 3.5.
    """
    y = (planes[0] - 16.0) / 219
    u, v = (
        np.repeat(np.repeat((plane - 128.0) / 224, 2, 0), 2, 1)[: y.shape[0], : y.shape[1]]
        for plane in planes[1:]
    )
    red, blue = y + 1.5748 * v, y + 1.8556 * u
    green = (y - 0.2126 * red - 0.0722 * blue) / 0.7152
    return np.clip(np.stack([red, green, blue], axis=-1) * 255, 0, 255)


def one_instrument(
    kind: str, channel: str, *, subject: Subject, picture: Picture, **options: object
) -> Plan:
    """A plan of one instrument, called `it`, with its options where they are given."""
    chosen = {key: spec.default for key, spec in INSTRUMENTS[kind].options.items()} | options
    spec = InstrumentSpec(
        name="it", kind=kind, channel=channel, if_missing="show_empty", options=chosen
    )
    made = Faceplate(name="one", instruments=(spec,))
    return compile_plan(made, picture=picture, subject=subject)


@pytest.fixture
def plan_of() -> Callable[..., Plan]:
    return one_instrument


@pytest.fixture
def start_s() -> float:
    return START_S


@pytest.fixture
def launch_subject() -> Callable[..., Subject]:
    return launch


@pytest.fixture
def ramp_signal() -> Callable[..., Signal]:
    return ramp


@pytest.fixture
def face_of_run() -> Callable[..., RunFace]:
    return run_face


@pytest.fixture
def blank_frame() -> Callable[..., Planes]:
    return frame


@pytest.fixture
def rgb_of() -> Callable[[Planes], NDArray[np.float64]]:
    return rgb
