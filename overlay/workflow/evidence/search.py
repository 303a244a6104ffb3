"""Looking for clues in everything that a crew brought home."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from overlay.trial import Material, footage_clock
from overlay.workflow.evidence.footage import footage_clues
from overlay.workflow.evidence.logs import log_clues, logged
from overlay.workflow.evidence.pairs import between_recordings
from overlay.workflow.evidence.senses import Senses
from sync.clue import Clue, Finding
from sync.tie import Ties, solve


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Search:
    """What the search for clues found by the clock that it speaks of, and the ties that follow."""

    findings: Mapping[str, Finding]
    ties: Ties

    @property
    def clues(self) -> tuple[Clue, ...]:
        """All clues."""
        return tuple(clue for finding in self.findings.values() for clue in finding.clues)


def search(material: Material, senses: Senses | None = None) -> Search:
    """Look for all clues and solve for all ties; nothing is written."""
    findings = find_clues(material, senses)
    for name, error in material.unreadable.items():
        findings[footage_clock(name)] = Finding(remarks=(str(error).rstrip("."),))
    clocks = [log.clock for log in material.logs.values()]
    clocks += [footage_clock(entry.name) for entry in material.sheet.recordings]
    clues = [clue for finding in findings.values() for clue in finding.clues]
    remarks = {clock: "; ".join(finding.remarks) for clock, finding in findings.items()}
    return Search(findings=findings, ties=solve(clocks, clues, remarks))


def find_clues(material: Material, senses: Senses | None = None) -> dict[str, Finding]:
    """All findings by the clock that they speak of.

    `senses` keeps what was decoded for others who want to hear it.
    """
    findings = log_clues(material)
    ties = solve(findings, [clue for found in findings.values() for clue in found.clues], {})
    known = logged(material, ties, senses or Senses())
    for entry in material.sheet.recordings:
        if entry.name in material.footage:
            found = footage_clues(material, entry, material.footage[entry.name], known)
            findings[footage_clock(entry.name)] = found
    for clock, found in between_recordings(material, findings, known.senses).items():
        findings[clock] += found
    return findings
