"""Claims: what a film's script says or prints, held against the results and against itself.

A claims file lists them, each of a kind: measured, maker's data, comparison, opinion::

    schema = "claims/1"

    [[claims]]
    kind = "measured"
    text = "Nought to thirty in 6.3 seconds"
    at = "0:41"
    quantity = "launch 1: time to 30 mph"
    value = "6.3 s"

    [[claims]]
    kind = "maker's data"
    text = "The maker states 150 horsepower"
    quantity = "power"
    value = "150 hp"
    source = "engine's plate"

    [[claims]]
    kind = "comparison"
    text = "Quicker back than there"
    quantity = "launch 2: time to 30 mph"
    than = "launch 1: time to 30 mph"
    relation = "less"

    [[claims]]
    kind = "opinion"
    text = "She is a joy to drive"
"""

from overlay.audit.claims.judge import judge
from overlay.audit.claims.judged import Clash, Judged, Place
from overlay.audit.claims.load import load_claims
from overlay.sheet.claims import SCHEMA, Claim, ClaimsFile

__all__ = ["SCHEMA", "Claim", "ClaimsFile", "Clash", "Judged", "Place", "judge", "load_claims"]
