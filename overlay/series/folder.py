"""`NAME.series`: where everything that a series makes lies.

::

    clips/        clips and ledgers, with their audits beside them
    jobs/         one report a job, by its key
    plan.json     what was to be made
    state.N.json  what the run of process N is doing; rewritten every second, gone at its end
    .locks/       which process works on which key
    .waiting/     jobs on their way to a process
    .making-KEY/  what a job is making
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from overlay.ledger import LEDGER_END
from overlay.series.job import SHORT, Job
from overlay.series.locks import LockedError, locked
from overlay.series.machine import started_ticks
from overlay.series.outcome import JobReport, report_from
from overlay.series.state import State, state_from

REPORT_PAGE, RESULTS_TABLE = "report.html", "results.csv"


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesFolder:
    """The folder of a series, and the places in it."""

    path: Path

    @property
    def clips(self) -> Path:
        """Finished clips, ledgers and audits."""
        return self.path / "clips"

    @property
    def jobs(self) -> Path:
        """Reports of jobs."""
        return self.path / "jobs"

    @property
    def plan(self) -> Path:
        """What was to be made."""
        return self.path / "plan.json"

    def state(self, pid: int) -> Path:
        """What the run of a process is doing now."""
        return self.path / f"state.{pid}.json"

    def states(self) -> Iterator[State]:
        """The states of all runs that are at work."""
        for path in sorted(self.path.glob("state.*.json")):
            try:
                state = state_from(json.loads(path.read_bytes()))
            except (OSError, ValueError, TypeError, KeyError):
                continue
            if started_ticks(state.pid) == state.started_ticks:
                yield state

    @property
    def waiting(self) -> Path:
        """Jobs that are handed to processes."""
        return self.path / ".waiting"

    def report(self, key: str) -> Path:
        """Where the report of a job is written."""
        return self.jobs / f"{key}.json"

    def lock(self, key: str) -> Path:
        """The lock of whoever works on a key."""
        return self.path / ".locks" / f"{key}.lock"

    def making(self, key: str) -> Path:
        """Where a job makes its outputs; as deep as `clips`, so that what a ledger says of where
        its sheet lies holds in both."""
        return self.path / f".making-{key[:SHORT]}"

    def prepare(self) -> None:
        """Make the folders.

        Raises
        ------
        OSError
            Where they cannot be made.
        """
        for folder in (self.clips, self.jobs, self.waiting, self.path / ".locks"):
            folder.mkdir(parents=True, exist_ok=True)

    def report_of(self, job: Job) -> JobReport | None:
        """The report of a job, if there is one that can be read."""
        return _read_report(self.report(job.key))

    def reports(self) -> Iterator[JobReport]:
        """All reports that can be read."""
        for path in sorted(self.jobs.glob("*.json")):
            report = _read_report(path)
            if report is not None:
                yield report

    def rendered(self, job: Job) -> bool:
        """Whether a job's clip and ledger are there: they are moved in place when whole."""
        return all((self.clips / name).is_file() for name in job.output_names)

    def up_to_date(self, job: Job) -> bool:
        """Whether all that a job makes is there, whole and as it was made."""
        report = self.report_of(job)
        if report is None or report.outcome != "done":
            return False
        if job.settings.audit and job.kind == "clip" and report.audit is None:
            return False
        sizes = {name: facts.size_bytes for name, facts in report.outputs.items()}
        try:
            return all((self.clips / name).stat().st_size == size for name, size in sizes.items())
        except OSError:
            return False

    def older(self, jobs: Iterable[Job]) -> tuple[Path, ...]:
        """Ledgers of clips that none of these jobs makes: their inputs or settings were others."""
        current = {name for job in jobs for name in job.output_names}
        found = sorted(self.clips.glob(f"*{LEDGER_END}"))
        return tuple(path for path in found if path.name not in current)

    def sweep(self, job: Job) -> None:
        """Remove what a job that died left half-made; for who holds its lock, or knows it dead."""
        shutil.rmtree(self.making(job.key), ignore_errors=True)
        for folder, name in ((self.clips, job.stem), (self.jobs, job.key)):
            for part in folder.glob(f".{_escaped(name)}*.part*"):
                part.unlink(missing_ok=True)

    def sweep_all(self) -> None:
        """Remove what jobs of runs that were killed left behind, but for those at work now."""
        for lock in (self.path / ".locks").glob("*.lock"):
            with suppress(LockedError, OSError), locked(lock):
                pass  # whoever lets go of a lock removes its file
        working = {lock.stem[:SHORT] for lock in (self.path / ".locks").glob("*.lock")}
        for folder in self.path.glob(".making-*"):
            if folder.name.removeprefix(".making-") not in working:
                shutil.rmtree(folder, ignore_errors=True)
        at_work = {self.state(state.pid) for state in self.states()}
        for path in set(self.path.glob("state.*.json")) - at_work:
            path.unlink(missing_ok=True)
        for order in self.waiting.glob("*.json"):
            if _is_old(order):
                order.unlink(missing_ok=True)
        for folder in (self.path, self.clips, self.jobs, self.waiting):
            for part in folder.glob(".*.part"):
                if not any(key in part.name for key in working) and _is_old(part):
                    part.unlink(missing_ok=True)


def _is_old(file: Path) -> bool:
    """Whether the process that a file is named by, before its ending, is gone."""
    number = file.stem.rpartition(".")[2]
    return not (number.isdigit() and Path(f"/proc/{number}").exists())


def _escaped(name: str) -> str:
    import glob

    return glob.escape(name)


def _read_report(path: Path) -> JobReport | None:
    try:
        return report_from(json.loads(path.read_bytes()))
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return None
