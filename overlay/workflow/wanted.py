"""Which clips a command asks for, and where each lies on its recording."""

from __future__ import annotations

from dataclasses import replace

from overlay.errors import SheetError, WishError
from overlay.sheet.model import Clip, output_name
from overlay.trial import Material
from overlay.workflow.instants import footage_instant
from overlay.workflow.wishes import Wish
from sync.clock import ClockMap, utc_text
from sync.media import Footage, FrameTimes


def wanted(material: Material, name: str | None, wish: Wish) -> list[Clip]:
    """The clips of a sheet that are asked for, with what the wish says of them in place.

    A clip that is wanted otherwise than the sheet has it goes into a file of its own: the plain
    name stands for what the sheet says.

    Raises
    ------
    SheetError
        Where the sheet has no such clip or recording, or no clip at all.
    WishError
        Where the wish asks for what such a clip does not have.
    """
    return [_wished(clip, wish, material) for clip in _named(material, name)]


def _named(material: Material, name: str | None) -> list[Clip]:
    clips = material.sheet.clips
    if name is None:
        if not clips:
            raise SheetError(
                "the sheet lists no clips",
                path=material.sheet_path,
                advice="add one under [[clips]], or name a recording to render all of it",
            )
        return clips
    for entry in clips:
        if entry.name == name:
            return [entry]
    recordings = [entry.name for entry in material.sheet.recordings]
    if name in recordings:
        return [Clip(name=name, recording=name, whole=True)]
    raise SheetError(
        f"there is no clip or recording called {name!r}",
        path=material.sheet_path,
        key="clips",
        allowed=tuple(dict.fromkeys([*(entry.name for entry in clips), *recordings])),
    )


def _wished(clip: Clip, wish: Wish, material: Material) -> Clip:
    if wish.handles_s is not None and clip.run is None:
        raise WishError(
            f"{clip.name!r} shows no one run that handles could be put about",
            advice="leave --handles out, or name where to begin and to end with --from and --to",
        )
    handles = {} if wish.handles_s is None else dict.fromkeys(("lead_in", "lead_out"),
                                                              wish.handles_s)  # fmt: skip
    shaped = {}
    if wish.shape == clip.shape:
        wish = replace(wish, shape=None)  # what the sheet says anyway is no departure
    elif wish.shape is not None:
        shaped["shape"] = wish.shape
    place = output_name(clip)
    others = "".join(f"-{part}" for part in wish.departs)
    ending = place.suffix if clip.file is not None else _ending(clip, wish, material)
    file = place.with_name(f"{place.stem}{others}{ending}")
    return clip.model_copy(
        update={**handles, **shaped, "name": f"{clip.name}{others}", "file": str(file)}
    )


def _ending(clip: Clip, wish: Wish, material: Material) -> str:
    """Of a clip whose sheet names no file: .mov where .mp4 does not hold what goes into it."""
    film = material.footage.get(clip.recording)
    plain = any(track.codec.startswith("pcm_") for track in film.sound) if film else False
    return ".mov" if plain or wish.encoder == "prores" else ".mp4"


def placed_by(
    wish: Wish,
    clip: Clip,
    footage: Footage,
    times: FrameTimes,
    to_utc: ClockMap,
    time_zone: str | None,
) -> Clip:
    """A clip with the instants in place that the wish names on its recording."""
    ends = {
        end: footage_instant(text, footage, times, to_utc, time_zone)
        for end, text in (("start", wish.start), ("stop", wish.stop))
        if text is not None
    }
    for text, t_s in ((wish.start, ends.get("start")), (wish.stop, ends.get("stop"))):
        if t_s is not None and not _within(t_s, times):
            raise WishError(
                f"{text} is not on the recording {clip.recording!r}, which runs from"
                f" {utc_text(to_utc.carry(times.span.start_s), 1)} to"
                f" {utc_text(to_utc.carry(times.span.stop_s), 1)},"
                f" {times.span.length_s:.1f} s",
                path=footage.path,
                advice="name an instant inside it, or leave out the end that the film has itself",
            )
    return clip.model_copy(update=ends)


def _within(t_s: float, times: FrameTimes) -> bool:
    frame_s = times.duration_pts(len(times) - 1) * float(times.time_base)
    return times.span.start_s - frame_s <= t_s <= times.span.stop_s + frame_s
