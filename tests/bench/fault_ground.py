"""What faults are sown on: trials, films, and stretches of both."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from burn_film import SIZES, film
from false_clips import Crew, Take, crew_of
from false_faces import face, morning, with_gaps, with_twins
from false_films import spray_film, thinned

from demo_media import make_demo
from overlay.workflow.filmed import runs_of
from sync.media import Footage, frame_times, probe

SLOW, FAST = 10, 30
"""Frames a second of films for what is not about frames, and for what is."""

GAPS_S = ((85.5, 88.0), (90.0, 91.6))
"""Where the receiver has no fix, in seconds of its log; the launch begins in the 73rd."""

HD, FULL_HD, UHD = (1280, 720), (1920, 1080), (3840, 2160)
PLAIN = ("launch", "quiet", "bars", "strips")
TWIN = ("twin", "two dials")
LATER = ("step", "top_speed", "turn")
"""Faceplates of one engine, of two, and of the runs that only the whole day has."""


@dataclass(eq=False)
class Ground:
    """Films and trials, made once and before processes part.

    `needs` may have `day` (the demo's whole day), `film` (its film of the morning, kept in the
    user's cache), and `large` (1080p, 2160p and 10 bits).
    """

    folder: Path
    short: bool = False
    needs: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.crews: dict[str, Crew] = {
            "one": crew_of(morning(self.folder / "one")),
            "two": crew_of(with_twins(self.folder / "two")),
            "gaps": crew_of(with_gaps(self.folder / "gaps", GAPS_S)),
        }
        self.films: dict[str, Footage] = {}
        self._films()
        if "day" in self.needs:
            sheet = make_demo(self.folder / "day", part="day", footage=False).sheet
            self.crews["day"] = crew_of(sheet)
        self.clips: list[Path] = []

    def _films(self) -> None:
        sea = film(self.folder, SIZES["720p"], 90)
        made = {
            "sea": thinned(sea, self.folder / "sea.mp4", 3, SLOW, 3.0),
            "sea fast": thinned(sea, self.folder / "sea-fast.mp4", 1, FAST, 3.0),
            "spray": spray_film(self.folder / "spray.mp4", HD, 40, rate=SLOW),
        }
        if "film" in self.needs:
            self.demo = make_demo(self.folder / "film", part="morning")
            source = self.demo.films["bow"][0]
            made["demo"] = thinned(source, self.folder / "demo.mp4", 3, SLOW, 12.0)
            made["demo fast"] = thinned(source, self.folder / "demo-fast.mp4", 1, FAST, 6.0)
        if "large" in self.needs:
            sea = film(self.folder, SIZES["1080p"], 90)
            made["1080p"] = thinned(sea, self.folder / "1080p.mp4", 3, SLOW, 3.0)
            made["1080p spray"] = spray_film(
                self.folder / "1080p-spray.mp4", FULL_HD, 26, rate=SLOW
            )
            made["2160p"] = spray_film(self.folder / "2160p.mp4", UHD, 7, rate=3)
            made["10 bits"] = spray_film(self.folder / "deep.mp4", HD, 26, rate=SLOW, bits=10)
        self.films |= {name: probe(path) for name, path in made.items()}

    def own(self) -> Ground:
        """This, with a folder for the clips of the process that asks."""
        self.place.mkdir(exist_ok=True)
        return self

    @property
    def place(self) -> Path:
        return self.folder / f"clips-{os.getpid()}"

    def path(self) -> Path:
        """Where the next clip goes."""
        self.clips.append(self.place / f"{len(self.clips)}.mp4")
        return self.clips[-1]

    def sweep(self) -> None:
        """Take away the clips of a trial that is done."""
        for path in self.place.glob("*.*"):
            path.unlink()

    @cached_property
    def slow(self) -> tuple[str, ...]:
        """Films of few frames, the calmer ones more often than spray, which takes its time."""
        often = ("sea", "demo", "sea", "demo", "spray", "1080p")
        return tuple(name for name in often if name in self.films)

    def take(
        self,
        rng: np.random.Generator,
        faceplate: str,
        *,
        film: str | None = None,
        length_s: float = 2.5,
        within: tuple[float, float] | None = None,
        crew: str | None = None,
        crf: int = 23,
    ) -> Take:
        """A stretch of a run that suits a faceplate, over a film; `within` are the first instants
        that it may begin at, in seconds from the run's start."""
        name = crew or ("two" if faceplate in TWIN else "day" if faceplate in LATER else "one")
        trial = self.crews[name]
        run, (low, high) = _run(trial, faceplate, rng)
        if within is not None:
            low, high = run[1] + within[0], run[1] + within[1]
        footage = self.films[film or str(rng.choice(self.slow))]
        whole = frame_times(footage).span
        length_s = min(length_s, whole.length_s - 0.05)
        from_s = rng.uniform(0, whole.length_s - length_s)
        return Take(
            crew=trial, run=run[0], faceplate=face(faceplate), footage=footage,
            start_utc_s=float(rng.uniform(low, max(low, high - length_s))), length_s=length_s,
            from_s=float(from_s), crf=crf,
        )  # fmt: skip

    def clock_take(self, rng: np.random.Generator, faceplate: str, **told: Any) -> Take:
        """The same over a film of as many frames as cameras take."""
        fast = [name for name in ("sea fast", "demo fast") if name in self.films]
        return self.take(rng, faceplate, film=str(rng.choice(fast)), **told)


def _run(
    crew: Crew, faceplate: str, rng: np.random.Generator
) -> tuple[tuple[str, float], tuple[float, float]]:
    """A run with its start, and the stretch of UTC in which a faceplate shows something of it."""
    kinds: dict[str, Sequence[str]] = {
        "step": ("step",), "top_speed": ("top speed",), "turn": ("turn",),
    }  # fmt: skip
    wanted = kinds.get(faceplate, ("launch",))
    runs = [run for run in runs_of(crew.results) if run.kind in wanted and len(run.passes) < 2]
    run = runs[int(rng.integers(len(runs)))]
    start, stop = run.span.start_s, run.span.stop_s
    return (run.name, start), (start + 0.3, min(stop, start + 30.0))
