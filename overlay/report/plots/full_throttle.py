"""Engine speed at full throttle on a scale, with the band that the maker has for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from overlay.report.plots.drawing import WIDTH_IN, Plot, draw, scale_border

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from overlay.analysis.results import Results
    from overlay.report.palette import Palette


def full_throttle_plot(results: Results) -> Plot | None:
    """The scale; None where engine speed or band is not known."""
    found = results.set_up.full_throttle
    if found is None:
        return None
    low, high = (rps * 60 for rps in found.rated_rps)
    at = found.engine_speed.value * 60
    room = max(0.6 * (high - low), 300.0)

    def onto(figure: Figure, colours: Palette) -> None:
        axes = figure.add_subplot()
        axes.axvspan(low, high, color=colours.sand, linewidth=0)
        axes.plot([at, at], [0.0, 0.62], color=colours.magenta, linewidth=1.6)
        axes.plot(at, 0.62, "D", ms=8, color=colours.magenta)
        axes.annotate("maker's band", ((low + high) / 2, 0.88), ha="center", va="center")
        axes.set_yticks([])
        axes.set_ylim(0, 1.05)
        axes.grid(visible=False)
        axes.set_xlim(min(low, at) - room, max(high, at) + room)
        for side in ("left", "right", "top"):
            axes.spines[side].set_visible(False)
        axes.set_xlabel("engine speed at full throttle, rpm")
        scale_border(axes, colours, 0.07)

    about = "The mark is the highest engine speed that was held with the throttle open."
    return draw("full_throttle", "Full throttle", about, onto, size_in=(WIDTH_IN, 1.5))
