"""A clip of a recording in several files is the clip of the recording that was never cut."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from film import Film, Track, cut_by_copy, cut_film, make_film, number_in
from numpy.typing import NDArray

from overlay.errors import OutputError
from overlay.render import Burned, Recipe, burn
from sync.clock import ClockMap, Span
from sync.media import (
    Footage,
    decoded_frames,
    frame_times,
    join,
    load_sound,
    on_proxy,
    probe,
    with_proxies,
)
from sync.media.planes import planes_of

Planes = tuple[NDArray[np.uint8], NDArray[np.uint8], NDArray[np.uint8]]
CLOCK = ClockMap(from_clock="bow", to_clock="utc", offset_s=1_781_172_000.25)
WHOLE = Film(
    frames=120,
    sound=(Track(seed=3, clicks_s=(1.0, 3.0)),),
    options={"preset": "veryfast", "g": "30", "bf": "2", "crf": "0"},
)


class Watching:
    """A plan that draws the same plate on each frame and keeps what it was given."""

    def __init__(self) -> None:
        self.given: list[tuple[float, NDArray[np.uint8]]] = []

    def draw(self, planes: Planes, t_utc_s: float) -> tuple[Any, ...]:
        self.given.append((t_utc_s, planes[0].copy()))
        planes[0][100:140, 40:120] = 60
        return ("plate",)


def render(footage: Footage, output: Path, **kinds: Any) -> tuple[Burned, list[Any], list[Any]]:
    plan, rows = Watching(), []
    burned = burn(
        footage,
        output,
        plan=plan,
        clock_map=CLOCK,
        recipe=Recipe(threads=1),
        record=lambda *row: rows.append(row),
        **kinds,
    )
    return burned, plan.given, rows


def files(tmp_path: Path, how: str, film: Film = WHOLE, name: str = "mp4") -> list[Path]:
    source = make_film(tmp_path / f"whole.{name}", film)
    parts = [tmp_path / f"part-{n}.{name}" for n in (1, 2)]
    if how == "copied":
        cut_by_copy(source, *parts, Fraction(2))
    else:
        for path, part in zip(parts, cut_film(film, 60), strict=True):
            make_film(path, part)
    return [source, *parts]


def sound_packets(path: Path) -> list[tuple[int, bytes]]:
    with av.open(str(path)) as container:
        return [(p.pts, bytes(p)) for p in container.demux(audio=0) if p.size]


@pytest.mark.parametrize("span", [None, Span(start_s=0.6, stop_s=3.2), Span(start_s=2.5, stop_s=3)])
@pytest.mark.parametrize("how", ["copied", "encoded"])
def test_pictures_times_and_record_are_those_of_the_uncut(
    how: str, span: Span | None, tmp_path: Path
) -> None:
    """The film is lossless, so that encoders of their own give the same pictures."""
    source, *parts = files(tmp_path, how)
    outputs = [tmp_path / name for name in ("uncut.mp4", "joined.mp4")]
    uncut, seen, rows = render(probe(source), outputs[0], span=span)
    joined, seen_joined, rows_joined = render(
        join([probe(p) for p in parts]), outputs[1], span=span
    )
    assert rows_joined == rows
    assert [t for t, _ in seen_joined] == [t for t, _ in seen]
    for (_, one), (_, other) in zip(seen, seen_joined, strict=True):
        np.testing.assert_array_equal(one, other)
    assert (joined.frames, joined.seconds) == (uncut.frames, uncut.seconds)
    times = [frame_times(probe(output)) for output in outputs]
    np.testing.assert_array_equal(times[0].pts, times[1].pts)
    assert times[0].stop_pts == times[1].stop_pts


@pytest.mark.parametrize("span", [None, Span(start_s=0.6, stop_s=3.2)])
def test_sound_that_runs_on_is_copied_packet_by_packet(span: Span | None, tmp_path: Path) -> None:
    source, *parts = files(tmp_path, "copied")
    render(probe(source), tmp_path / "uncut.mp4", span=span)
    burned, _, _ = render(join([probe(p) for p in parts]), tmp_path / "joined.mp4", span=span)
    assert sound_packets(tmp_path / "joined.mp4") == sound_packets(tmp_path / "uncut.mp4")
    assert not any("sound" in line for line in burned.warnings)


@pytest.mark.parametrize(("name", "codec"), [("mp4", "aac"), ("mov", "pcm_s16le")])
def test_sound_of_two_encoders_has_no_seam_in_a_clip(name: str, codec: str, tmp_path: Path) -> None:
    """Held against the sound that was there before any encoder; the clip says what was done."""
    track = Track(codec=codec, format="fltp" if codec == "aac" else "s16", seed=3)
    film = replace(WHOLE, sound=(track,))
    source, *parts = files(tmp_path, "encoded", film, name)
    output = tmp_path / f"clip.{name}"
    burned, _, _ = render(join([probe(p) for p in parts]), output, span=Span(start_s=1, stop_s=3.5))
    sound = load_sound(probe(output))
    plain = load_sound(probe(source), start_s=1.0, stop_s=3.5)
    assert sound.gaps == 0
    assert sound.start_s == pytest.approx(0.0, abs=1e-3)
    size = min(len(sound.samples), len(plain.samples))
    assert size >= 2.49 * 48000
    error = sound.samples[:size] - plain.samples[:size]
    seam = slice(48000 - 1500, 48000 + 1500)
    level = np.std(plain.samples)
    assert np.std(error) < 0.2 * level
    assert np.std(error[seam]) < 0.2 * level
    assert any("encoded once more" in line for line in burned.warnings) == (codec == "aac")


def test_no_file_of_a_recording_may_be_overwritten(tmp_path: Path) -> None:
    _, *parts = files(tmp_path, "copied")
    before = parts[1].read_bytes()
    with pytest.raises(OutputError, match=r"would overwrite the footage .*part-2\.mp4"):
        render(join([probe(p) for p in parts]), parts[1])
    assert parts[1].read_bytes() == before


def test_a_proxy_is_rendered_on_the_clock_of_its_original(tmp_path: Path) -> None:
    _, *parts = files(tmp_path, "encoded")
    small = replace(WHOLE, width=160, height=90, first_pts=0, sound=())
    proxies = [tmp_path / f"small-{n}.mp4" for n in (1, 2)]
    for path, film in zip(proxies, cut_film(small, 60), strict=True):
        make_film(path, film)
    footage = with_proxies(join([probe(p) for p in parts]), [probe(p) for p in proxies])
    _, seen, rows = render(on_proxy(footage), tmp_path / "clip.mp4")
    _, _, full = render(footage, tmp_path / "full.mp4")
    assert [row[2:4] for row in rows] == [row[2:4] for row in full]
    assert seen[0][1].shape == (90, 160)
    clip = probe(tmp_path / "clip.mp4")
    frames = decoded_frames(clip, frame_times(clip), range(120))
    assert [number_in(planes_of(d.picture)[0]) for d in frames] == list(range(120))
