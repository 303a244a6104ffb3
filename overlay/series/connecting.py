"""How a Dask cluster is come by: one at an address, or one that is started for this run."""

from __future__ import annotations

import logging
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import resource_tracker
from typing import TYPE_CHECKING

from overlay.errors import ClusterError

if TYPE_CHECKING:
    from distributed import Client

HERE = "here"
"""The cluster that is started on the spot, instead of an address."""

CONNECT_S = 10
WORKER_DEATHS = 3
"""So many workers may die over a job before the job is held to be what killed them."""

_CHATTY = ("distributed", "tornado", "asyncio")
"""Who logs it, with a traceback, when a scheduler or a worker goes; we say it in a sentence."""


@contextmanager
def cluster_at(address: str, cores: int) -> Iterator[Client]:
    """A client of the cluster at an address, or of one that is started here with so many workers.

    Raises
    ------
    ClusterError
        Where Dask is not installed, or nothing answers at the address.
    """
    try:
        import dask
        from distributed import Client, LocalCluster
    except ImportError as error:
        raise ClusterError(
            "a cluster needs Dask, which is not installed",
            advice="install trialreel with its extra: pip install 'trialreel[cluster]'",
        ) from error
    with _quiet(), dask.config.set({"distributed.scheduler.allowed-failures": WORKER_DEATHS}):
        if address != HERE:
            with _client_of(address) as client:
                yield client
            return
        with _deaf():
            cluster = LocalCluster(
                n_workers=cores,
                threads_per_worker=1,
                processes=True,
                dashboard_address="127.0.0.1:0",
                silence_logs=logging.CRITICAL,
            )
        with cluster, Client(cluster) as client:
            yield client


def _client_of(address: str) -> Client:
    from distributed import Client

    if not address.strip():
        raise ClusterError(
            "the address of the Dask scheduler is empty",
            advice="write it, such as tcp://10.0.0.5:8786, or write --cluster here",
        )
    try:
        return Client(address, timeout=CONNECT_S)
    # Each of Dask's ways to connect has its own errors for an address that makes no sense to it.
    except Exception as error:
        raise ClusterError(
            f"no Dask scheduler answers at {address}",
            advice="start one with `dask scheduler`, or write --cluster here",
        ) from error


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep Dask's own words from the terminal; a logger of ours is not touched."""
    names = [name for name in logging.root.manager.loggerDict if name.split(".")[0] in _CHATTY]
    before = {name: logging.getLogger(name).level for name in {*names, *_CHATTY}}
    for name in before:
        logging.getLogger(name).setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        for name, level in before.items():
            logging.getLogger(name).setLevel(level)


@contextmanager
def _deaf() -> Iterator[None]:
    """Let threads that are started in here, and the processes that these start, not hear Ctrl-C.

    The terminal sends it to the workers of a cluster here too, which would end with a traceback
    each; the run itself ends them. What a thread does not hear goes down to all it starts, also
    to a worker that comes in place of one that died.
    """
    resource_tracker.ensure_running()  # else the first worker starts it, and hears again by that
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
