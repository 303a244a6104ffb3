"""A recording's tie as a picture: what is heard and seen in the film, with what was logged.

The upper panels have the sound's spectrogram, dark where it is loud, and on it the firing
frequency of the logged engine speed and its double, where the tie puts them. Where the tie is
right the lines lie on ridges, and bend where those bend. Then comes the sound about a clap, with
the instant at which the mark would have it arrive, and how the picture turned beside how the log
would have turned it.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from overlay.graphics.theme import Colours
from overlay.report.tie_panels import (
    CLAP_S,
    Expected,
    clap,
    hex_of,
    spectrogram,
    turning,
    where_it_changes,
)
from sync.clock import Span
from sync.clues import Curves

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from sync.media import Sound

WIDTH_IN, PANEL_IN, DPI = 12.0, 2.6, 110


def tie_picture(
    *,
    title: str,
    sound: Sound | None,
    expected: Expected,
    turned: Curves | None = None,
    colours: Colours,
) -> bytes:
    """The picture as a PNG.

    Raises
    ------
    ValueError
        Where there is neither sound nor turning to draw.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    panels = [] if sound is None else _of_sound(sound, expected, colours)
    if turned is not None:
        panels.append(partial(turning, turned=turned, colours=colours))
    if not panels:
        raise ValueError("a tie's picture needs sound or turning")
    figure = Figure(figsize=(WIDTH_IN, PANEL_IN * len(panels) + 0.5), dpi=DPI, layout="constrained")
    FigureCanvasAgg(figure)
    figure.suptitle(title, fontsize=11, x=0.01, ha="left", color=hex_of(colours.ink))
    for row, draw in enumerate(panels):
        draw(figure.add_subplot(len(panels), 1, row + 1))
    out = io.BytesIO()
    figure.savefig(out, format="png", metadata={"Software": None})
    return out.getvalue()


def _of_sound(sound: Sound, expected: Expected, colours: Colours) -> list[Callable[[Axes], None]]:
    """The whole sound, a closer look where the note changes most, and the first clap."""
    whole = Span(start_s=sound.start_s, stop_s=sound.stop_s)
    stretches = [whole]
    close = where_it_changes(expected, whole)
    if close is not None and whole.length_s > 2 * close.length_s:
        stretches.append(close)
    made: list[Callable[[Axes], None]] = [
        partial(spectrogram, sound=sound, span=span, expected=expected, colours=colours)
        for span in stretches
    ]
    claps = [t for t in expected.claps_s if whole.holds(t - CLAP_S) and whole.holds(t + CLAP_S)]
    if claps:
        made.append(partial(clap, sound=sound, at_s=claps[0], colours=colours))
    return made
