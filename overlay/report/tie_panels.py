"""The panels of a tie's picture: sound under the logged note, a clap, and two turnings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.graphics.theme import Colours
from sync.arrays import Floats
from sync.clock import Span
from sync.clues import Curves

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from sync.media import Sound

SHOWN_HZ = 8000
"""Sound is brought to about this rate before it is drawn: engines fire below 1 kHz."""

WINDOW_S = 0.12
MOST_COLUMNS = 1600
CLOSE_S = 12.0
"""Length of the close panel, about the instant at which the engine speed changes most."""

CLAP_S = 0.08
"""What is shown either side of a clap."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Expected:
    """What a tie would have in the sound, at times of the footage's clock.

    Parameters
    ----------
    t_s, firing_hz : [shape=(n,)]
        Instants and the engine's firing frequency then, NaN where it was not logged.
    claps_s
        When marks would be heard.
    """

    t_s: Floats
    firing_hz: Floats
    claps_s: tuple[float, ...]


def hex_of(colour: Sequence[int]) -> str:
    """A colour as matplotlib takes it."""
    return "#" + "".join(f"{part:02x}" for part in colour)


def _part(sound: Sound, span: Span) -> NDArray[np.float32]:
    first = max(0, round((span.start_s - sound.start_s) * sound.rate_hz))
    return sound.samples[first : round((span.stop_s - sound.start_s) * sound.rate_hz)]


def where_it_changes(expected: Expected, whole: Span) -> Span | None:
    """The stretch in which the logged engine speed changes most, if it changes at all."""
    known = np.isfinite(expected.firing_hz)
    if np.count_nonzero(known) < 3:
        return None
    t, rate = expected.t_s[known], np.abs(np.gradient(expected.firing_hz[known]))
    at = float(t[int(np.argmax(rate))])
    start = min(max(at - CLOSE_S / 2, whole.start_s), whole.stop_s - CLOSE_S)
    return None if start < whole.start_s else Span(start_s=start, stop_s=start + CLOSE_S)


def spectrogram(axes: Axes, sound: Sound, span: Span, expected: Expected, colours: Colours) -> None:
    """One stretch: loudness over time and frequency, and where the engine should be."""
    from matplotlib.colors import LinearSegmentedColormap

    known = expected.firing_hz[np.isfinite(expected.firing_hz)]
    top_hz = 2.6 * float(known.max()) if known.size else 600.0
    level, seconds, hz = _levels(_part(sound, span), sound.rate_hz, top_hz)
    tint = LinearSegmentedColormap.from_list("chart", [hex_of(colours.cream), hex_of(colours.ink)])
    low, high = np.percentile(level, (30, 99.7))
    axes.imshow(
        level,
        origin="lower",
        aspect="auto",
        cmap=tint,
        vmin=low,
        vmax=high,
        extent=(span.start_s + seconds[0], span.start_s + seconds[-1], 0.0, float(hz[-1])),
    )
    for order, style, text in ((1, "-", "as logged"), (2, (0, (4, 3)), "its double")):
        axes.plot(
            expected.t_s,
            order * expected.firing_hz,
            color=hex_of(colours.magenta),
            linestyle=style,
            linewidth=1.1,
            label=text,
        )
    for t in expected.claps_s:
        axes.axvline(t, color=hex_of(colours.magenta), linewidth=0.8)
    axes.set_xlim(span.start_s, span.stop_s)
    axes.set_ylim(0.0, float(hz[-1]))
    axes.set_ylabel("firing, Hz")
    axes.set_xlabel("s of the recording")
    axes.legend(loc="upper left", fontsize=8, framealpha=0.9)


def _levels(
    samples: NDArray[np.float32], rate_hz: float, top_hz: float
) -> tuple[Floats, Floats, Floats]:
    """Loudness in dB [shape=(bins, frames)], the frames' middles in s and the bins in Hz."""
    from scipy.signal import resample_poly

    down = max(1, round(rate_hz / SHOWN_HZ))
    sound = resample_poly(samples, 1, down) if down > 1 else samples
    rate = rate_hz / down
    size = round(WINDOW_S * rate)
    count = min(MOST_COLUMNS, max(2, (sound.size - size) // max(size // 8, 1)))
    starts = np.linspace(0, max(sound.size - size, 0), count).astype(np.int64)
    frames = np.stack([sound[i : i + size] for i in starts]) * np.hanning(size)
    power = np.abs(np.fft.rfft(frames, 2 * size, axis=1)) ** 2
    hz = np.fft.rfftfreq(2 * size, 1 / rate)
    level = np.asarray(10 * np.log10(power[:, hz <= top_hz].T + 1e-12), dtype=np.float64)
    middles = np.asarray((starts + size / 2) / rate, dtype=np.float64)
    return level, middles, np.asarray(hz[hz <= top_hz], dtype=np.float64)


def clap(axes: Axes, sound: Sound, at_s: float, colours: Colours) -> None:
    """The sound about a clap, and where the mark would have it."""
    span = Span(start_s=at_s - CLAP_S, stop_s=at_s + CLAP_S)
    part = _part(sound, span)
    t_ms = (np.arange(part.size) / sound.rate_hz - CLAP_S) * 1000
    axes.plot(t_ms, part, color=hex_of(colours.ink), linewidth=0.7)
    axes.axvline(0.0, color=hex_of(colours.magenta), linewidth=1.4)
    axes.set_xlim(-CLAP_S * 1000, CLAP_S * 1000)
    axes.set_xlabel(f"ms from where the mark would be heard, {at_s:.3f} s")
    axes.set_ylabel("sound")


WAYS = {
    "across": "sideways, widths/s",
    "down": "up and down, widths/s",
    "about": "tilting, °/s",
}


def turning(axes: Axes, turned: Curves, colours: Colours) -> None:
    """How the picture turned, and what the log would have it do at the tie."""
    size = 180.0 / np.pi if turned.way == "about" else 1.0
    axes.plot(
        turned.t_s, size * turned.seen, color=hex_of(colours.ink), linewidth=1.4, label="as seen"
    )
    axes.plot(
        turned.t_s,
        size * turned.logged,
        color=hex_of(colours.magenta),
        linewidth=1.1,
        label=f"as logged, {turned.explained:.0%} explained",
    )
    axes.set_xlim(float(turned.t_s[0]), float(turned.t_s[-1]))
    axes.set_ylabel(WAYS[turned.way])
    axes.set_xlabel("s of the recording")
    axes.legend(loc="upper left", fontsize=8, framealpha=0.9)
