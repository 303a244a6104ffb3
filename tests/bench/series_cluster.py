"""Long clips in pieces on a cluster, workers that die, and a plan of a hundred thousand jobs.

The cluster has two worker processes on this machine. A film of ten minutes is made at once and in
pieces on the cluster; the ledgers, with the prints of all pictures before they were encoded, are
held against each other byte for byte, so are sound packets and time stamps, and both clips against
the pictures that were burned, by the mean PSNR of their luma over every thirtieth frame. Then the
same once more, with one worker killed half-way.

The dry run hands out a hundred thousand jobs that are over at once, and measures what the run and
its scheduler take for each, in time and memory. The last row does so with more and more workers,
all of them threads of this process, so that what it takes for a job is theirs too: what grows with
their number is what a large cluster would wait for.

    python tests/bench/series_cluster.py --short
    python tests/bench/series_cluster.py --only "dry run" --trials 100000
"""

from __future__ import annotations

import math
import os
import shutil
import signal
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import av
import numpy as np
from dry_jobs import dry_books, dry_jobs, instantly
from season import left_behind
from series_rows import Bench, Figure, Rows, elapsed_s, study

from overlay.render import Recipe
from overlay.series.asked import series_of
from overlay.series.books import Books
from overlay.series.cluster import HERE, ClusterRun, cluster_at
from overlay.series.folder import SeriesFolder
from overlay.series.plan import plan_of
from overlay.series.run import run_series
from overlay.series.state import State
from overlay.series.wish import wish_of
from overlay.trial import read_material
from overlay.workflow.render import render_of


def made_of(season: Path, ending: str) -> Path:
    (path,) = (season / "season.series" / "clips").glob(f"*{ending}")
    return path


def stamps(clip: Path) -> list[int]:
    with av.open(str(clip)) as film:
        return sorted(p.pts for p in film.demux(video=0) if p.pts is not None and p.size)


def sound(clip: Path) -> list[tuple[int, bytes]]:
    with av.open(str(clip)) as film:
        return [(p.pts, bytes(p)) for p in film.demux(audio=0) if p.size]


def psnr_db(clip: Path, source: Path) -> float:
    """Mean over every thirtieth frame of the PSNR of luma."""
    found = []
    with av.open(str(clip)) as one, av.open(str(source)) as other:
        pairs = zip(one.decode(video=0), other.decode(video=0), strict=True)
        for number, (a, b) in enumerate(pairs):
            if number % 30 == 0:
                first, second = (frame.to_ndarray(format="gray").astype(float) for frame in (a, b))
                error = float(np.mean((first - second) ** 2))
                found.append(10 * math.log10(255**2 / max(error, 1e-6)))
    return float(np.mean(found))


def reference(season: Path, folder: Path) -> Path:
    """The clip as it was before its own encoder: the same pictures without loss."""
    series = series_of([str(season)])
    (job,) = plan_of(series).jobs
    material = read_material(Path(job.sheet))
    (clip,) = material.sheet.clips
    place = folder / "reference.mp4"
    wish = replace(
        wish_of(clip, job.settings, job.variant, place), recipe=Recipe(crf=0, preset="ultrafast")
    )
    render_of(material, clip.name, wish=wish)
    return place


def in_pieces(bench: Bench) -> list[Figure]:
    """A long clip, at once and in pieces, and once more with a worker killed half-way."""
    film_s, piece_s = (12.0, 4) if bench.short else (600.0, 60)
    seen = {"film_s": film_s + 1, "clip_s": film_s, "start_s": 0.0, "trials": 1}
    whole = bench.season("whole", '[limits]\ncores = 2\npiece = "2 h"\n', **seen)
    parts = Path(shutil.copytree(whole, bench.folder / "parts"))
    text = (parts / "series.toml").read_text()
    (parts / "series.toml").write_text(text.replace('"2 h"', f'"{piece_s} s"'))
    whole_s = elapsed_s(lambda: run_series(series_of([str(whole)]), lambda _state: None))
    rows = [on_cluster(whole, parts, "pieces", whole_s)]
    before = reference(whole, bench.folder)
    one, other = (psnr_db(made_of(season, ".mp4"), before) for season in (whole, parts))
    told = f"dB; at once {one:.2f}, in pieces {other:.2f}"
    rows.append(Figure(row="PSNR, difference", value=abs(one - other), goal=0.5, told=told))
    shutil.rmtree(parts / "season.series")
    rows.append(on_cluster(whole, parts, "pieces, a worker killed", whole_s, kill_s=whole_s / 3))
    return rows


def on_cluster(
    whole: Path, parts: Path, row: str, whole_s: float, kill_s: float = math.inf
) -> Figure:
    """Make a clip in pieces and count in what it is another than the whole."""
    killed: list[float] = []

    def watch(state: State) -> None:
        if state.at_work and not killed and state.seconds > kill_s:
            worker = next(name for name, keys in client.processing().items() if keys)
            os.kill(client.run(os.getpid, workers=[worker])[worker], signal.SIGKILL)
            killed.append(state.seconds)

    with cluster_at(HERE, 2) as client:
        began = time.perf_counter()
        outcome = run_series(series_of([str(parts)]), watch, client.scheduler.address)
        took_s = time.perf_counter() - began
    own, clip = made_of(parts, ".mp4"), made_of(whole, ".mp4")
    ledgers = [made_of(season, ".ledger.parquet").read_bytes() for season in (whole, parts)]
    alike = {
        "outcome": outcome.all_well,
        "ledger": ledgers[0] == ledgers[1],
        "time stamps": stamps(own) == stamps(clip),
        "sound": sound(own) == sound(clip),
        "left behind": not left_behind(parts),
        "killed": bool(killed) or kill_s == math.inf,
    }
    wrong = [what for what, same in alike.items() if not same]
    told = f"{len(outcome.plan.jobs[0].cuts)} pieces in {took_s:.1f} s, at once {whole_s:.1f} s"
    if killed:
        told += f"; killed at {killed[0]:.0f} s"
    if wrong:
        told += f"; not as the whole: {', '.join(wrong)}"
    return Figure(row=row, value=float(len(wrong)), goal=0.0, told=told)


def resident_mb(pid: int) -> float:
    text = Path(f"/proc/{pid}/status").read_text()
    return int(text.partition("VmRSS:")[2].split()[0]) / 1024


def dry_run(bench: Bench) -> list[Figure]:
    """Many jobs handed out: time for each, and memory beside that of the plan itself."""
    count = bench.trials or (2_000 if bench.short else 100_000)
    season = bench.season("dry", trials=1)
    plan = plan_of(series_of([str(season)]))
    folder = SeriesFolder(path=plan.folder)
    folder.prepare()
    jobs = [
        replace(plan.jobs[0], key=sha256(str(n).encode()).hexdigest(), cuts=())
        for n in range(count)
    ]
    begun_mb = resident_mb(os.getpid())
    memory: list[float] = []

    def watch(_state: State) -> None:
        memory.append(resident_mb(os.getpid()))

    with cluster_at(HERE, 2) as client:
        books = Books(name="dry", phase="clips", folder=folder, cores=2, watch=watch)
        cpu = time.process_time()
        took_s = elapsed_s(lambda: ClusterRun(books=books, client=client, task=instantly).run(jobs))
        cpu_s = time.process_time() - cpu
    done = sum(report.outcome == "done" for report in books.reports)
    return [
        Figure(row="dry run, lost", value=float(count - done), goal=0.0,
               told=f"{done:,} jobs in {took_s:.0f} s, {1e3 * took_s / count:.2f} ms each"),
        Figure(row="dry run, processor a job", value=1e3 * cpu_s / count, goal=10.0,
               told="ms, of the run and the scheduler, which share this process"),
        Figure(row="dry run, memory", value=max(memory) - begun_mb, goal=1000.0,
               told=f"MB over the plan; first told {memory[0] - begun_mb:.0f}, reports of all jobs "
               "are in it"),
    ]  # fmt: skip


def many_workers(bench: Bench) -> list[Figure]:
    """What handing out a job takes of the processor, by how many workers there are."""
    import dask
    from distributed import LocalCluster

    # A hundred workers in one process look after themselves at a hundred times the usual rate:
    # what they need no part of is off, and the rest is measured idle and taken off.
    own = {"worker.profile.enabled": False, "worker.memory.monitor-interval": "60s"}
    took: dict[int, float] = {}
    for count in (2, 20) if bench.short else (2, 20, 100):
        jobs = dry_jobs(bench.trials or (400 if bench.short else 2_000))
        books = dry_books(bench.folder / f"{count}-workers")
        with dask.config.set({f"distributed.{key}": value for key, value in own.items()}):
            local = LocalCluster(
                n_workers=count, threads_per_worker=1, processes=False, memory_limit=0,
                dashboard_address=":0",
            )  # fmt: skip
            with local, cluster_at(local.scheduler_address, count) as client:
                client.wait_for_workers(count, timeout=120)
                idle = processor_share(lambda: time.sleep(3.0))
                run = ClusterRun(books=books, client=client, task=instantly)
                began = time.perf_counter()
                share = processor_share(lambda run=run, jobs=jobs: run.run(jobs))
                took[count] = 1e3 * (share - idle) * (time.perf_counter() - began) / len(jobs)
    most = max(took)
    by_count = ", ".join(f"{count} {ms:.2f}" for count, ms in took.items())
    told = f"ms of this process's processor a job, by workers: {by_count}"
    return [Figure(row=f"{most} workers, a job", value=took[most], goal=10.0, told=told)]


def processor_share(work: Callable[[], object]) -> float:
    """How many cores this process has busy with a piece of work."""
    cpu, began = time.process_time(), time.perf_counter()
    work()
    return (time.process_time() - cpu) / (time.perf_counter() - began)


ROWS: Rows = {"pieces": in_pieces, "dry run": dry_run, "many workers": many_workers}

if __name__ == "__main__":
    sys.exit(study(__doc__, ROWS))
