"""Numbers that drop before their time: looked for a little earlier than they ought to be seen."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.comparing.compared import EDGE_S

if TYPE_CHECKING:
    from overlay.audit.comparing.compared import Flags, Floats
    from overlay.ledger import Field, Layout

EARLY_S = 0.5
"""A flag that drops early is there until its time, so that the last half a second tells."""


def eager(layout: Layout) -> Layout:
    """The layout with numbers that come in later than the instruments looked for earlier."""
    return replace(layout, fields=tuple(_earlier(field) for field in layout.fields))


def _earlier(field: Field) -> Field:
    since = field.from_utc_s
    return field if since is None else replace(field, from_utc_s=since - EARLY_S)


def early(field: Field, layout: Layout, t_utc_s: Floats, slack_s: float) -> Flags:
    """Whether an instant lies shortly before a number comes in, by more than its place may be off,
    and while other instruments are to be seen."""
    since = field.from_utc_s
    if since is None:
        return np.zeros(t_utc_s.shape, np.bool_)
    before: Flags = (t_utc_s >= since - EARLY_S) & (t_utc_s < since - slack_s - EDGE_S)
    return before & (t_utc_s >= layout.shown_utc_s[0])
