"""The captions of a trial's renders, by the files that they go into."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from overlay.exchange.captions import cues_of, figures_by_frame, subrip, webvtt
from overlay.exchange.renders import Found, Rendered, TransparentRender
from sync.errors import FootageError
from sync.media import frame_times, probe

CAPTION_NOTE = (
    "Each caption has the figures that its first frame shows; the ledger has those of every frame."
)


def free_name(stem: str, end: str, taken: Iterable[str]) -> str:
    """A name without its ending that no file has yet, on systems that do not tell capitals too."""
    gone = {name.casefold() for name in taken}
    name, number = stem, 2
    while f"{name}{end}".casefold() in gone:
        name, number = f"{stem}-{number}", number + 1
    return name


def captions_of(found: Found) -> tuple[Mapping[str, str], tuple[str, ...], tuple[str, ...]]:
    """The captions of every render by their places, the renders that have some, and what could
    not be read."""
    files: dict[str, str] = {}
    captioned: list[str] = []
    odd: list[str] = []
    renders: list[Rendered | TransparentRender] = [*found.clips, *found.transparent]
    for render in renders:
        try:
            times_s = _frame_starts(render)
        except FootageError as error:
            odd.append(f"{render.path.name} has no captions: {str(error).rstrip('.')}")
            continue
        cues = cues_of(figures_by_frame(render.ledger, len(times_s) - 1), times_s)
        if cues:
            captioned.append(render.stem)
            name = free_name(f"captions/{render.stem}", ".srt", files)
            files[f"{name}.srt"] = subrip(cues)
            files[f"{name}.vtt"] = webvtt(cues, CAPTION_NOTE)
    return files, tuple(captioned), tuple(odd)


def _frame_starts(render: Rendered | TransparentRender) -> list[Fraction]:
    """When each frame is shown, and when the last one ends: by a clip's own time stamps, and by
    the constant rate of a transparent render."""
    if isinstance(render, TransparentRender):
        return [number / render.rate_hz for number in range(render.frames + 1)]
    times = frame_times(probe(render.path))
    return [int(pts) * times.time_base for pts in (*times.pts.tolist(), times.stop_pts)]
