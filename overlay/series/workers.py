"""Which workers of a Dask cluster can do the jobs of a series.

A worker that lacks trialreel, has another version of it, or does not see the series' folder would
fail every job that it is given, and fail fast, so that it is given most of them. So each is asked
before it gets work, also those that join later.
"""

from __future__ import annotations

import asyncio
import logging
import os
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from overlay.errors import ClusterError
from overlay.series.on_worker import what_it_has

if TYPE_CHECKING:
    from distributed import Client

LOOK_EVERY_S = 0.5
ASK_UNFIT_AGAIN_S = 60.0
"""A worker may come to see the folder, or be given another trialreel under its old address."""

MENTION_NONE_S, NONE_FOR_S = 5.0, 60.0
"""After so long without a worker that can do the jobs, that is mentioned, and is given up."""

_log = logging.getLogger(__name__)


def scheduler_gone() -> ClusterError:
    """What is told where the scheduler is lost."""
    return ClusterError(
        "the Dask scheduler is gone",
        advice="start it, and run the series again: what is whole is kept",
    )


@contextmanager
def reaching(client: Client) -> Iterator[None]:
    """Ask something of the scheduler.

    Raises
    ------
    ClusterError
        Where it is lost on the way.
    """
    try:
        yield
    except (Exception, asyncio.CancelledError) as error:
        if isinstance(error, ClusterError):
            raise
        # Dask has many errors for it, of no common kind but for this.
        if isinstance(error, OSError) or client.status != "running":
            raise scheduler_gone() from error
        raise


@dataclass(slots=True, kw_only=True)
class Workers:
    """The workers of a cluster that can do the jobs of a series.

    Parameters
    ----------
    folder
        The series' folder, which they have to see.
    there
        All that the scheduler has, by address.
    """

    client: Client
    folder: Path
    there: frozenset[str] = frozenset()
    _fit: dict[str, int] = field(default_factory=dict)
    _unfit: dict[str, float] = field(default_factory=dict)
    _why: dict[str, str] = field(default_factory=dict)
    _looked_s: float | None = None
    _none_since_s: float | None = None
    _mentioned: bool = False

    def fit(self) -> Mapping[str, int]:
        """Those that can do the jobs, by address, with their threads.

        Raises
        ------
        ClusterError
            Where the scheduler is lost, or there was none of them for too long.
        """
        now = time.monotonic()
        if self._looked_s is None or now - self._looked_s >= LOOK_EVERY_S:
            self._look(now)
            self._looked_s = time.monotonic()
        if self._fit:
            self._none_since_s = None
        else:
            self._wait(now)
        return self._fit

    def ask_scheduler(self) -> None:
        """See that the scheduler can read our jobs: it unpacks them before it gives them out.

        Raises
        ------
        ClusterError
            Where it cannot, or is lost.
        """
        with reaching(self.client):
            try:
                self.client.run_on_scheduler(what_it_has, "")
            except OSError:
                raise
            # What fails there comes back as it was raised there: of any kind.
            except Exception as error:
                if self.client.status != "running":
                    raise
                raise ClusterError(
                    f"trialreel cannot be run where the Dask scheduler is ({error})",
                    advice=f"install trialreel {version('trialreel')} there, and start it again",
                ) from error

    def ask_again(self) -> None:
        """Ask all of them again: one has turned out not to be fit."""
        self._fit, self._unfit, self._looked_s = {}, {}, None

    def _look(self, now: float) -> None:
        with reaching(self.client):
            threads = {str(one): int(n) for one, n in self.client.nthreads().items()}
            if self.there != threads.keys():
                self.there = frozenset(threads)
            self._fit = {one: threads[one] for one in self._fit if one in threads}
            new = [
                one
                for one in threads
                if one not in self._fit
                and now - self._unfit.get(one, -ASK_UNFIT_AGAIN_S) >= ASK_UNFIT_AGAIN_S
            ]
            answers = self._ask(new) if new else {}
        for one, why in answers.items():
            if not why:
                self._fit[one] = threads[one]
                continue
            self._unfit[one] = now
            if self._why.get(one) != why:
                _log.warning("worker %s is given no jobs: %s", one, why)
            self._why[one] = why

    def _ask(self, workers: list[str]) -> dict[str, str]:
        """Why each of these workers cannot do the jobs; empty where it can. Those that were not
        reached are left out, and asked again."""
        word = uuid4().hex
        # The name of a half file, so that it is swept up where we are killed here.
        token = self.folder / f".token-{word}.{os.getpid()}.part"
        token.write_text(word, encoding="ascii")
        try:
            told = self.client.run(what_it_has, str(token), workers=workers, on_error="return")
        finally:
            token.unlink(missing_ok=True)
        return {
            one: self._against(answer, word)
            for one, answer in told.items()
            if not isinstance(answer, OSError)
        }

    def _against(self, answer: Any, word: str) -> str:
        here = version("trialreel")
        if not isinstance(answer, Mapping):
            return f"trialreel {here} cannot be run there ({answer})"
        if answer["version"] != here:
            return f"it has trialreel {answer['version']}, and here is {here}"
        if answer["token"] != word:
            return f"it does not see {self.folder}, where this series keeps its clips"
        return ""

    def _wait(self, now: float) -> None:
        if self._none_since_s is None:
            self._none_since_s = now
        none_s = now - self._none_since_s
        unfit = [self._why[one] for one in self._unfit if one in self.there]
        if none_s >= NONE_FOR_S:
            what = f"can do the jobs ({unfit[0]})" if unfit else "is there to do the jobs"
            raise ClusterError(
                f"no worker of the Dask cluster {what}",
                advice="start some with `dask worker`, where trialreel and the series' folder are",
            )
        if none_s >= MENTION_NONE_S and not self._mentioned:
            self._mentioned = True
            _log.warning("no worker can do the jobs yet; one is waited for %.0f s", NONE_FOR_S)
