"""What the audit says of a claim."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

from overlay.documents import without_nan
from overlay.sheet.claims import Claim

Verdict = Literal["supported", "not supported", "cannot say", "listed"]
"""`listed` is an opinion, which nothing can support."""

Rounded = Literal["rightly", "in the boat's favour", "against the boat", "neither way", ""]
"""How the number that is said lies to the result; empty where they were not held together."""

Why = Literal[
    "agrees",
    "rounding",
    "too many digits",
    "differs",
    "wrong dimension",
    "no such quantity",
    "no value",
    "no uncertainty",
    "no such trial",
    "no source",
    "passed off as measured",
    "not credited",
    "credited",
    "one side only",
    "no relation",
    "too close",
    "opinion",
    "contradicts itself",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where in the logs a result stands.

    `log` is the one that the channel was taken from, empty where the results do not say;
    `first_line` and `last_line` are those of its file, None where they are not known.
    """

    run: str
    channel: str
    log: str
    start_utc_s: float
    stop_utc_s: float
    first_line: int | None = None
    last_line: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """Claims of one film that cannot all be true, by their numbers from 1."""

    kind: Literal["two values", "usable fuel"]
    claims: tuple[int, ...]
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """The verdict on one claim.

    Parameters
    ----------
    number
        Of the claim in its file, from 1.
    figure
        The result that it is about, by the name that reports have; empty where there is none.
    result
        That result with its deviation, in the claim's unit; empty as before.
    supported_text
        How it may be printed: with the digits that its deviation supports; empty where that cannot
        be said.
    digits
        To how many significant digits the results support it; None as before.
    rounded
        How the number that is said lies to the result.
    places
        Where in the logs the result stands.
    clashes
        With which other claims of the film it cannot stand together.
    sentence
        All of it, for the report.
    """

    number: int
    claim: Claim
    verdict: Verdict
    why: Why
    sentence: str
    figure: str = ""
    result: str = ""
    result_si: float = math.nan
    result_sd_si: float = math.nan
    supported_text: str = ""
    digits: int | None = None
    rounded: Rounded = ""
    places: tuple[Place, ...] = ()
    clashes: tuple[Clash, ...] = ()

    @property
    def sound(self) -> bool:
        """Whether nothing speaks against it."""
        return self.verdict in ("supported", "listed") and not self.clashes

    def as_json(self) -> dict[str, Any]:
        """All of it as lists and tables that JSON has words for."""
        from dataclasses import asdict

        facts = {
            **{name: getattr(self, name) for name in _PLAIN},
            "claim": self.claim.model_dump(exclude_none=True),
            "places": [asdict(place) for place in self.places],
            "clashes": [asdict(clash) for clash in self.clashes],
        }
        made: dict[str, Any] = without_nan(facts)
        return made


_PLAIN = (
    "number",
    "verdict",
    "why",
    "sentence",
    "figure",
    "result",
    "result_si",
    "result_sd_si",
    "supported_text",
    "digits",
    "rounded",
)
