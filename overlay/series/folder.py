"""`NAME.series`: where everything that a series makes lies.

::

    clips/        clips and ledgers, with their audits beside them
    pieces/       pieces of long clips with their ledgers, until they are joined
    jobs/         one report a job, by its key
    plan.json     what was to be made
    report.html   the page, and results.csv beside it: written at the end of a run
    state.H.N.json  what the run of process N on machine H is doing; rewritten every second, gone
                  at its end
    .locks/       which process works on which key
    .making-KEY/  what a job is making
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from overlay.ledger import LEDGER_END
from overlay.series.job import SHORT, Job
from overlay.series.locks import LockedError, locked
from overlay.series.machine import host_here, started_ticks
from overlay.series.outcome import JobReport, report_from
from overlay.series.state import State, state_from

SILENT_S = 300.0
"""A run on another machine is over that did not tell of itself for so long; clocks differ."""

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
    def pieces(self) -> Path:
        """Pieces of clips that are not joined yet."""
        return self.path / "pieces"

    def home(self, job: Job) -> Path:
        """Where a job's outputs go."""
        return self.pieces if job.kind == "piece" else self.clips

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
        return self.path / f"state.{host_here()}.{pid}.json"

    def states(self) -> Iterator[State]:
        """The states of all runs that are at work."""
        for path in sorted(self.path.glob("state.*.json")):
            try:
                state = state_from(json.loads(path.read_bytes()))
            except (OSError, ValueError):
                continue
            if _goes_on(state):
                yield state

    def report(self, key: str) -> Path:
        """Where the report of a job is written."""
        return self.jobs / f"{key}.json"

    def lock(self, key: str) -> Path:
        """The lock of whoever works on a key."""
        return self.path / ".locks" / f"{key}.lock"

    def making(self, key: str) -> Path:
        """Where a job makes its outputs; as deep as `clips`, so that what a ledger says of where
        its sheet lies holds in both."""
        return self.path / f".making-{key}"

    def prepare(self) -> None:
        """Make the folders.

        Raises
        ------
        OSError
            Where they cannot be made.
        """
        for folder in (self.clips, self.pieces, self.jobs, self.path / ".locks"):
            folder.mkdir(parents=True, exist_ok=True)

    def report_of(self, job: Job) -> JobReport | None:
        """The report of a job, if there is one that can be read."""
        return _read_report(self.report(job.key), job)

    def reports(self) -> Iterator[JobReport]:
        """All reports that can be read."""
        for path in sorted(self.jobs.glob("*.json")):
            report = _read_report(path)
            if report is not None:
                yield report

    def rendered(self, job: Job) -> bool:
        """Whether a job's clip and ledger are there: they are moved in place when whole."""
        return all((self.home(job) / name).is_file() for name in job.output_names)

    def up_to_date(self, job: Job) -> bool:
        """Whether all that a job makes is there, and as large as it was made.

        A piece is also where the clip is that it is for.
        """
        if job.kind == "piece" and self.rendered(job.joined):
            return True
        report = self.report_of(job)
        if report is None or report.outcome != "done":
            return False
        if job.settings.audit and job.kind == "clip" and report.audit is None:
            return False
        sizes = {name: facts.size_bytes for name, facts in report.outputs.items()}
        try:
            home = self.home(job)
            return all((home / name).stat().st_size == size for name, size in sizes.items())
        except OSError:
            return False

    def drop_damaged(self, job: Job) -> bool:
        """Remove a clip and its ledger that are no longer what the job's report says of them;
        tells whether they were not."""
        from overlay.workflow.hashes import sha256_of

        report = self.report_of(job)
        if report is None:
            return False
        for name in job.output_names:
            path, was = self.home(job) / name, report.outputs.get(name)
            if was is not None and path.is_file() and sha256_of(path) != was.sha256:
                for one in job.output_names:
                    (self.home(job) / one).unlink(missing_ok=True)
                return True
        return False

    def drop_unjoinable(self, job: Job) -> None:
        """Remove the pieces that a clip could not be joined from, so that the next run makes them
        anew: those that are damaged, or all of them where each is as it was made."""
        if not sum(self.drop_damaged(piece) for piece in job.pieces):
            self.drop_pieces(job)

    def drop_pieces(self, job: Job) -> None:
        """Remove the pieces of a clip that is whole, and their reports."""
        for piece in job.pieces:
            for name in piece.output_names:
                (self.pieces / name).unlink(missing_ok=True)
            self.report(piece.key).unlink(missing_ok=True)

    def sweep_pieces(self, jobs: Iterable[Job]) -> None:
        """Remove pieces that no clip of a plan waits for, unless another run may be at them."""
        if sum(1 for _ in self.states()) > 1:
            return
        awaited = [piece for job in jobs if not self.rendered(job) for piece in job.pieces]
        names = {name for piece in awaited for name in piece.output_names}
        for path in self.pieces.iterdir():
            if path.name not in names:
                with suppress(OSError):  # somebody's folder is no business of ours
                    path.unlink(missing_ok=True)

    def older(self, jobs: Iterable[Job]) -> tuple[Path, ...]:
        """Ledgers of clips that none of these jobs makes: their inputs or settings were others."""
        current = {name for job in jobs for name in job.output_names}
        found = sorted(self.clips.glob(f"*{LEDGER_END}"))
        return tuple(path for path in found if path.name not in current)

    def sweep(self, job: Job) -> None:
        """Remove what a job that died left half-made; for who holds its lock, or knows it dead."""
        shutil.rmtree(self.making(job.key), ignore_errors=True)
        for folder, name in ((self.home(job), job.stem), (self.jobs, job.key)):
            for part in folder.glob(f".{_escaped(name)}*.part*"):
                part.unlink(missing_ok=True)

    def sweep_all(self) -> None:
        """Remove what jobs of runs that were killed left behind, but for those at work now."""
        for lock in (self.path / ".locks").glob("*.lock"):
            with suppress(LockedError, OSError), locked(lock):
                pass  # whoever lets go of a lock removes its file
        for folder in self.path.glob(".making-*"):
            lock = self.lock(folder.name.removeprefix(".making-"))
            with suppress(LockedError, OSError), locked(lock):
                shutil.rmtree(folder, ignore_errors=True)
        working = {lock.stem[:SHORT] for lock in (self.path / ".locks").glob("*.lock")}
        at_work = {f"state.{state.host}.{state.pid}.json" for state in self.states()}
        for path in self.path.glob("state.*.json"):
            if path.name not in at_work:
                path.unlink(missing_ok=True)
        for folder in (self.path, self.clips, self.pieces, self.jobs):
            for part in folder.glob(".*.part"):
                if not any(key in part.name for key in working) and _is_old(part):
                    part.unlink(missing_ok=True)


def _goes_on(state: State) -> bool:
    """Whether a run is at work: here by its process, elsewhere by how lately it told of itself."""
    if state.host == host_here():
        return started_ticks(state.pid) == state.started_ticks
    try:
        told = datetime.fromisoformat(state.updated_utc)
    except ValueError:
        return False
    return abs((datetime.now(UTC) - told).total_seconds()) < SILENT_S


def _is_old(file: Path) -> bool:
    """Whether the process that a file is named by, before its ending, is gone."""
    number = file.stem.rpartition(".")[2]
    return not (number.isdigit() and Path(f"/proc/{number}").exists())


def _escaped(name: str) -> str:
    import glob

    return glob.escape(name)


def _read_report(path: Path, of: Job | None = None) -> JobReport | None:
    try:
        return report_from(json.loads(path.read_bytes()), of)
    except (OSError, ValueError):
        return None
