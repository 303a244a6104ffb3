"""Whether a ledger says of everything that it shows where that stands: what it leaves out, nobody
looks at, and nothing that nobody looked at may be signed for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.comparing import to_be_seen
from overlay.audit.verdict import Unheld

if TYPE_CHECKING:
    from overlay.workflow.auditing.rendered import Rendered

SAME_S = 1e-3


def left_out(render: Rendered) -> tuple[Unheld, ...]:
    """What of a render cannot be audited since its ledger is not whole."""
    return (*_unplaced(render), *_silent(render), *_hidden(render), *_unhashed(render))


def _unplaced(render: Rendered) -> list[Unheld]:
    """Numbers in its rows for which there is no field, or only at another time."""
    fields = {(one.instrument, one.item): one for one in render.layout.fields}
    found = []
    for (instrument, item), rows in render.ledger.rows.groupby(
        ["instrument", "item"], observed=True
    ):
        field = fields.get((str(instrument), str(item)))
        what = str(instrument) if item == "value" else f"{instrument}, {item}"
        if field is None:
            found.append(Unheld(what=what, why="the ledger does not say where it stands"))
            continue
        seen = to_be_seen(field, render.layout, rows["t_utc_s"].to_numpy(np.float64))
        if not seen.all():
            why = (
                f"the ledger shows it on {int((~seen).sum())} frames on which it is not to be seen"
            )
            found.append(Unheld(what=what, why=why))
    return found


def _silent(render: Rendered) -> list[Unheld]:
    """Instruments of which nothing can be read."""
    layout = render.layout
    told = {one.instrument for one in (*layout.fields, *layout.stills)}
    told |= {one.instrument for one in layout.pointers}
    return [
        Unheld(what=name, why="the ledger says of nothing on it where it stands")
        for name in render.facts.get("instruments", {})
        if name not in told
    ]


def _hidden(render: Rendered) -> list[Unheld]:
    """A run that is shown for longer than the layout has it."""
    run, shown = render.facts.get("run", {}), render.layout.shown_utc_s
    wanted = (run.get("shown_from_utc_s"), run.get("shown_to_utc_s"))
    same = all(
        one is not None and (one == other or abs(one - other) < SAME_S)
        for one, other in zip(wanted, shown, strict=True)
    )
    if same:
        return []
    return [Unheld(what="the run", why="the ledger has two minds on when it is shown")]


def _unhashed(render: Rendered) -> list[Unheld]:
    """Inputs without a hash: nobody can tell whether they are what they were."""
    inputs = render.facts.get("inputs", {})
    kinds = {str(name).partition(":")[0] for name in inputs}
    needed = {"sheet": "the sheet", "log": "the logs"}
    if "transparent" not in render.facts:
        needed["footage"] = "the footage"
    return [
        Unheld(what=text, why="the ledger has no hash of what the render was made from")
        for kind, text in needed.items()
        if kind not in kinds
    ]
