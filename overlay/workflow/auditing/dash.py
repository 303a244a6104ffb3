"""The boat's own display in shot, which lags as such displays do: told, so that nobody wonders."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from overlay.figures import figure
from overlay.workflow.clip_facts import units_told
from sync.units import from_si

if TYPE_CHECKING:
    import pandas as pd

    from overlay.trial import Material


def dash_notes(facts: Mapping[str, Any], rows: pd.DataFrame, material: Material) -> tuple[str, ...]:
    """What the sheet lists of a display that the recording of a render shows, and by how much its
    number may stand beside ours; nothing where it lists none.

    Parameters
    ----------
    facts, rows
        Of the render's ledger.
    """
    name = facts.get("recording")
    entry = next((one for one in material.sheet.recordings if one.name == name), None)
    if entry is None or entry.dash is None:
        return ()
    shows, lag_s = entry.dash.shows, entry.dash.lag
    how = figure(shows, units_told(facts, material))
    told = f"The boat's own dash is in shot: it shows {how.label} {lag_s:.1f} s later than it was"
    mine = rows[rows["channel"] == shows].drop_duplicates("t_shown_s").sort_values("t_shown_s")
    t, values = (mine[name].to_numpy(np.float64) for name in ("t_shown_s", "value_si"))
    known = np.isfinite(values)
    if known.sum() < 2:
        return (f"{told}, and nothing of ours shows that.",)
    late = np.interp(t[known] - lag_s, t[known], values[known])
    most = float(np.max(np.abs(values[known] - late)))
    apart = from_si(most, how.unit, how.quantity) - from_si(0.0, how.unit, how.quantity)
    return (f"{told}, so that its number may differ from ours by up to {apart:.1f} {how.unit}.",)
